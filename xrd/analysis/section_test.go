package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// TestSection: a section has a span, with an intercept a value, with areas that agree a combined estimate, with areas that do
// not a caution.
func TestSection(t *testing.T) {
	run := func(change func(*analysis.Job)) (result.Document, error) {
		j := simulated(t, "transverse", "copper", "cu3sn-epsilon")
		j.Specimen.Section = "transverse"
		change(&j)
		r, err := analysis.Run(t.Context(), j)
		return r.Document, err
	}
	must := func(change func(*analysis.Job)) result.Document {
		doc, err := run(change)
		require.NoError(t, err)
		return doc
	}
	span := must(func(*analysis.Job) {})
	assert.True(t, span.Spanned())
	assert.Nil(t, span.Micrograph)
	assert.Equal(t, xrd.SeverityCaution, caution(t, span, "microabsorption").Severity)
	assert.Contains(t, caution(t, span, "microabsorption").Remedy, "--intercept")
	assert.NotContains(t, caution(t, span, "microabsorption").Remedy, "powder", "a section is not told to become a powder")

	powder := must(func(j *analysis.Job) { j.Specimen.Section = "powder" })
	copper := phase(t, powder, "copper")
	assert.Equal(t, result.AbsorptionFine, powder.Absorption)
	assert.InDelta(t, *copper.WeightPercent, *phase(t, span, "copper").FineLimitWeightPercent, 1e-9)
	assert.Nil(t, copper.FineLimitWeightPercent)
	assert.Contains(t, caution(t, powder, "microabsorption").Remedy, "under extraction", "dust is named")

	silent := must(func(j *analysis.Job) { j.Specimen.Section = "" })
	assert.Equal(t, result.AbsorptionEither, silent.Absorption)
	assert.True(t, silent.Spanned(), "nobody said which it is")
	assert.Equal(t, xrd.SeverityCaution, caution(t, silent, "microabsorption").Severity)
	assert.Contains(t, caution(t, silent, "microabsorption").Remedy, "--section powder")
	for _, reading := range []result.Document{powder, span} {
		for _, p := range silent.Phases {
			other := phase(t, reading, p.ID)
			assert.LessOrEqual(t, *p.WeightPercentLo, *other.WeightPercentLo)
			assert.GreaterOrEqual(t, *p.WeightPercentHi, *other.WeightPercentHi)
		}
	}
	assert.InDelta(t, *copper.WeightPercent, *phase(t, silent, "copper").WeightPercent, 1e-9)
	grains := must(func(j *analysis.Job) { j.Specimen.Section, j.Grains = "", []analysis.Grain{{Diameter: 1}} })
	assert.Equal(t, result.AbsorptionFine, grains.Absorption, "only a powder has grains of a stated size")
	areas := must(func(j *analysis.Job) {
		j.Specimen.Section, j.Areas = "", []analysis.Area{{ID: "copper", Percent: 60, U: 20}}
	})
	assert.Equal(t, result.AbsorptionLimits, areas.Absorption, "only a section has areas")

	stated := must(func(j *analysis.Job) { j.Intercepts = []xrd.Intercept{{Micron: 8, U: 2}} })
	assert.Equal(t, result.AbsorptionMosaic, stated.Absorption)
	assert.False(t, stated.Spanned())
	a, b := phase(t, stated, "copper"), phase(t, span, "copper")
	assert.Less(t, *a.WeightPercentHi-*a.WeightPercentLo, *b.WeightPercentHi-*b.WeightPercentLo)
	assert.Greater(t, *a.Depth95, *phase(t, stated, "cu3sn-epsilon").Depth95, "what absorbs less is seen deeper")
	assert.Equal(t, []result.Length{{ID: "", Micron: 8, U: 2}}, stated.Scan.Intercepts)

	agree := must(func(j *analysis.Job) {
		j.Areas = []analysis.Area{{ID: "Copper", Percent: *a.VolumePercent, U: 1}}
		j.Intercepts = []xrd.Intercept{{Micron: 8, U: 2}}
	})
	m := agree.Micrograph
	require.NotNil(t, m)
	assert.True(t, m.Agree)
	assert.InDelta(t, 0, *m.Of("copper").Z, 1e-9)
	assert.Less(t, *m.Of("copper").CombinedWeightHi-*m.Of("copper").CombinedWeightLo, *a.WeightPercentHi-*a.WeightPercentLo)
	assert.False(t, has(agree, "micrograph-disagrees"))

	off := must(func(j *analysis.Job) {
		j.Areas = []analysis.Area{{ID: "copper", Percent: 30, U: 1}}
		j.Intercepts = []xrd.Intercept{{Micron: 8, U: 2}}
	})
	assert.False(t, off.Micrograph.Agree)
	assert.Nil(t, off.Micrograph.Of("copper").CombinedWeight)
	assert.Contains(t, caution(t, off, "micrograph-disagrees").Remedy, "preferred orientation", "the copper of this scan is textured")

	for what, change := range map[string]func(*analysis.Job){
		"more than 100":        func(j *analysis.Job) { j.Areas = []analysis.Area{{"copper", 70, 1}, {"cu3sn-epsilon", 40, 1}} },
		"not found":            func(j *analysis.Job) { j.Areas = []analysis.Area{{"quartz", 5, 1}} },
		"intercept of powder":  func(j *analysis.Job) { j.Specimen.Section, j.Intercepts = "powder", []xrd.Intercept{{Micron: 8, U: 2}} },
		"area of powder":       func(j *analysis.Job) { j.Specimen.Section, j.Areas = "powder", []analysis.Area{{"copper", 5, 1}} },
		"two areas of a phase": func(j *analysis.Job) { j.Areas = []analysis.Area{{"copper", 5, 1}, {"Copper", 5, 1}} },
	} {
		_, err := run(change)
		require.ErrorIs(t, err, analysis.ErrMicrograph, what)
	}
	_, err := run(func(j *analysis.Job) { j.Intercepts = []xrd.Intercept{{ID: "brick", Micron: 8, U: 2}} })
	require.ErrorIs(t, err, analysis.ErrUnknownPhase)
}
