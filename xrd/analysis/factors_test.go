package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
)

// doubledCopper is a table that takes the reference intensity ratio of copper twice.
func doubledCopper() *analysis.FactorTable {
	cu, _ := xrd.ParseRadiation("Cu")
	return &analysis.FactorTable{File: "f.toml", Conditions: analysis.Conditions{Radiation: cu, Geometry: "reflection", Monochromator: "none"},
		Factors: quantify.Factors{Reference: "cu3sn-epsilon", Repeatability: 0.02, RepeatFreedom: 5,
			List: []quantify.Factor{{ID: "cu3sn-epsilon", Value: 1, RIR: 1}, {ID: "copper", Value: 2, RIR: 1}}, Covariance: [][]float64{{0, 0}, {0, 4e-4}}}}
}

// TestFactorsCorrect: with the ratio of copper doubled, w/(1−w) is halved, also where an external standard lets the same
// job be measured twice over.
func TestFactorsCorrect(t *testing.T) {
	j := simulated(t, "longitudinal", "copper", "cu3sn-epsilon")
	plain, err := analysis.Run(t.Context(), j)
	require.NoError(t, err)
	w := *phase(t, plain.Document, "copper").WeightPercent
	want := 100 * w / (w + 2*(100-w))
	for _, external := range []bool{false, true} {
		j.Factors = doubledCopper()
		if external {
			k := simulated(t, "corundum")
			j.External = &analysis.External{Scan: k.Scan, File: "corundum.xy", ID: "corundum"}
		}
		r, err := analysis.Run(t.Context(), j)
		require.NoError(t, err)
		copper := phase(t, r.Document, "copper")
		assert.InDelta(t, want, *copper.WeightPercent, 1e-6)
		assert.Equal(t, quantify.CorrectedOrigin, copper.RIROrigin)
		assert.False(t, has(r.Document, "mixed-rir"))
		f := r.Document.Factors
		require.NotNil(t, f)
		require.Len(t, f.Phases, 2)
		assert.True(t, has(r.Document, "factors-elsewhere"), "the structures are not those that the table was fitted with")
	}
	j.Factors.List, j.Factors.Covariance = j.Factors.List[1:], [][]float64{{0}}
	r, err := analysis.Run(t.Context(), j)
	require.NoError(t, err)
	assert.True(t, has(r.Document, "factors-partial"))
	assert.False(t, has(r.Document, "mixed-rir"), "a factor makes no ratio of another kind")
	co, _ := xrd.ParseRadiation("Co")
	j.Factors.Conditions.Radiation = co
	_, err = analysis.Run(t.Context(), j)
	assert.ErrorIs(t, err, analysis.ErrWeighed)
}

// TestFitFactors fits one mixture as if half of each had been weighed: with its factors it is half of each.
func TestFitFactors(t *testing.T) {
	m := analysis.Mixture{Job: simulated(t, "longitudinal"), Weighed: []analysis.WeighedAmount{{ID: "copper", Percent: 50}, {ID: "cu3sn-epsilon", Percent: 50.2}, {ID: "quartz"}}}
	table, err := analysis.FitFactors(t.Context(), []analysis.Mixture{m}, "")
	require.NoError(t, err)
	require.Len(t, table.List, 2)
	j := m.Job
	j.Phases, j.Factors = []string{"copper", "cu3sn-epsilon"}, &table
	r, err := analysis.Run(t.Context(), j)
	require.NoError(t, err)
	assert.InDelta(t, 100*50/100.2, *phase(t, r.Document, "copper").WeightPercent, 1e-6)
	assert.False(t, has(r.Document, "factors-elsewhere"))
	assert.False(t, has(r.Document, "factors-partial"))
	for _, bad := range [][]analysis.WeighedAmount{
		nil,
		{{ID: "copper", Percent: 50}, {ID: "cu3sn-epsilon", Percent: 49}},
		{{ID: "copper", Percent: 100}},
		{{ID: "copper", Percent: 150}, {ID: "cu3sn-epsilon", Percent: -50}},
		{{ID: "copper", Percent: 50}, {ID: "COPPER", Percent: 50}},
		{{ID: "copper", Percent: 50}, {ID: "quartz", Percent: 50}},
	} {
		m.Weighed = bad
		_, err := analysis.FitFactors(t.Context(), []analysis.Mixture{m}, "")
		assert.ErrorIs(t, err, analysis.ErrWeighed, "%v", bad)
	}
}

// TestMixturesShareDisplacementParameters: mixtures are fitted with one displacement parameter for each phase, which the table carries to
// the scans that it corrects; a table without one leaves them free.
func TestMixturesShareDisplacementParameters(t *testing.T) {
	m := analysis.Mixture{Job: simulated(t, "longitudinal"), Weighed: []analysis.WeighedAmount{{ID: "copper", Percent: 50}, {ID: "cu3sn-epsilon", Percent: 50}}}
	table, err := analysis.FitFactors(t.Context(), []analysis.Mixture{m}, "")
	require.NoError(t, err)
	require.Contains(t, table.DeltaB, "copper")
	require.Contains(t, table.DeltaB, "cu3sn-epsilon")
	j := m.Job
	j.Phases, j.Factors = []string{"copper", "cu3sn-epsilon"}, &table
	percent := func() float64 {
		r, err := analysis.Run(t.Context(), j)
		require.NoError(t, err)
		return *phase(t, r.Document, "copper").WeightPercent
	}
	require.InDelta(t, 50, percent(), 1e-6)
	table.DeltaB["copper"] += 0.2 // weaker lines, so that there has to be more of it
	assert.Greater(t, percent(), 50.5)
	table.DeltaB = nil
	assert.InDelta(t, 50, percent(), 0.2, "one scan alone finds nearly what it found")
}
