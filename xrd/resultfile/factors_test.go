package resultfile_test

import (
	"bytes"
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
	"phasetally/xrd/resultfile"
)

func table(t testing.TB) analysis.FactorTable {
	t.Helper()
	r, err := xrd.ParseRadiation("Co")
	require.NoError(t, err)
	return analysis.FactorTable{
		Factors: quantify.Factors{Reference: "calcite", ReferenceU: 0.017, Repeatability: 0.02, RepeatFreedom: 7.5,
			List:       []quantify.Factor{{ID: "calcite", RIR: 3.3, Value: 1, Scatter: 0.05, Mixtures: 3}, {ID: "gibbsite", RIR: 1.95, Value: 0.96, Scatter: 0.1, Mixtures: 2}},
			Covariance: [][]float64{{0, 0}, {0, 4e-4}}},
		Conditions: analysis.Conditions{Radiation: r, Slit: "fixed:1", Geometry: "reflection", Monochromator: "graphite", Preparation: "powder", Grains: "3:"},
		Mixtures:   []analysis.MixtureRow{{File: "a.xy"}, {File: "b \"c\".xy"}},
		Axes:       map[string][3]int{"gibbsite": {0, -1, 1}},
		DeltaB:     map[string]float64{"gibbsite": -0.125, "calcite": 0},
	}
}

func TestFactorsRoundTrip(t *testing.T) {
	want := table(t)
	b, err := resultfile.WriteFactors(want)
	require.NoError(t, err)
	assert.Contains(t, string(b), string(resultfile.FactorsMark))
	got, err := resultfile.ReadFactors(bytes.NewReader(b), "f.toml")
	require.NoError(t, err)
	assert.Len(t, got.SHA256, 64)
	assert.Equal(t, "f.toml", got.File)
	got.SHA256, got.File = "", ""
	assert.Equal(t, want, got)
}

func TestFactorsNotWritten(t *testing.T) {
	bad := table(t)
	bad.Repeatability = 1.5
	_, err := resultfile.WriteFactors(bad)
	assert.ErrorIs(t, err, resultfile.ErrFactorTable)
}

func TestFactorsRefused(t *testing.T) {
	b, err := resultfile.WriteFactors(table(t))
	require.NoError(t, err)
	for _, c := range []struct{ name, from, to, says string }{
		{"another schema", "factors/1", "factors/9", "this version reads"},
		{"no TOML", "reference = ", "reference ", "f.toml:9:"},
		{"unknown key", "preparation =", "press =", "unknown key press"},
		{"a factor of 0", "value = 0.96", "value = 0.0", "value of gibbsite"},
		{"a factor that is no number", "value = 0.96", "value = nan", "value of gibbsite"},
		{"a word", "value = 0.96", `value = "x"`, "f.toml"},
		{"negative variance", "0.0004]", "-0.0004]", "variance of gibbsite"},
		{"a row too short", "[0.0, 0.0004]", "[0.0004]", "covariance of gibbsite has 1 numbers"},
		{"not symmetric", "covariance = [0.0, 0.0]", "covariance = [0.0, 0.1]", "not symmetric"},
		{"correlated beyond 1", "[0.0, 0.0004]", "[0.1, 0.0004]", "covariance of gibbsite and calcite"},
		{"twice", `id = "gibbsite"`, `id = "Calcite"`, "stands twice"},
		{"no reference", `reference = "calcite"`, `reference = "quartz"`, "has no factor"},
		{"an axis too short", "[0, -1, 1]", "[0, -1]", "texture_axis of gibbsite"},
		{"no direction", "[0, -1, 1]", "[0, 0, 0]", "texture_axis of gibbsite"},
		{"no index", "[0, -1, 1]", "[0, -100, 1]", "texture_axis of gibbsite"},
		{"no displacement parameter", "delta_b = -0.125", "delta_b = 1e9", "delta_b of gibbsite"},
		{"one that is no number", "delta_b = -0.125", "delta_b = nan", "delta_b of gibbsite"},
		{"no tube", `radiation = "Co"`, `radiation = "Unobtainium"`, "radiation"},
		{"an impossible repeatability", "repeatability = 0.02", "repeatability = -1.0", "repeatability"},
	} {
		require.Contains(t, string(b), c.from, c.name)
		_, err := resultfile.ReadFactors(strings.NewReader(strings.Replace(string(b), c.from, c.to, 1)), "f.toml")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, c.name)
		require.ErrorContains(t, err, c.says, c.name)
		assert.NotContains(t, err.Error(), "\n", c.name)
		assert.True(t, errors.Is(err, resultfile.ErrFactorTable), c.name)
	}
	_, err = resultfile.ReadFactors(strings.NewReader(""), "f.toml")
	assert.ErrorIs(t, err, resultfile.ErrFactorTable)
}

func FuzzReadFactors(f *testing.F) {
	b, err := resultfile.WriteFactors(table(f))
	require.NoError(f, err)
	f.Add(b)
	f.Add([]byte("schema = \"phasetally.factors/1\"\n[[factor]]\nid = \"a\"\ncovariance = [[1]]\n"))
	f.Add([]byte("schema = \"a\\\nb\"\n")) // the message of the TOML library quotes the line end
	f.Fuzz(func(t *testing.T, raw []byte) {
		got, err := resultfile.ReadFactors(bytes.NewReader(raw), "f.toml")
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Fatalf("%q has several lines", err)
			}
			return
		}
		again, err := resultfile.WriteFactors(got)
		require.NoError(t, err)
		back, err := resultfile.ReadFactors(bytes.NewReader(again), "f.toml")
		require.NoError(t, err)
		back.SHA256 = got.SHA256
		assert.Equal(t, got, back)
	})
}

func TestFactorsText(t *testing.T) {
	x := table(t)
	x.Mixtures[0] = analysis.MixtureRow{File: "a.xy", Complete: true, IDs: []string{"calcite", "gibbsite"},
		Trial: &quantify.Trial{Percent: []float64{40, 60}, Before: []float64{43, 57}, After: []float64{41, 59}}}
	got := string(resultfile.FactorsText(x))
	assert.Contains(t, got, "3.00 wt% RMSE (worst 3.00) without factors, 1.00 (worst 1.00) with them")
	assert.Contains(t, got, "b \"c\".xy is explained only in part")
	assert.NotContains(t, got, "do not use")
	assert.NotContains(t, got, "departs from the others")
	x.Mixtures[0].Departs = true
	assert.Contains(t, string(resultfile.FactorsText(x)), "a.xy departs from the others")
	x.Mixtures[0].Trial.After = []float64{45, 55}
	assert.Contains(t, string(resultfile.FactorsText(x)), "do not use them")
	x.Mixtures[0].Trial = nil
	assert.Contains(t, string(resultfile.FactorsText(x)), "No mixture follows from the others")
}
