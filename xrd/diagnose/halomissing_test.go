package diagnose_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// An amorphous part of 50 wt% by a standard asks for its halo. By hand: 20 wt% of a standard of I/Ic 1 with a line of area 200 give 10 for
// 1 wt%; 40 wt% of the powder, twice that for the halo, over 8° and the 1.0645 of a Gaussian, are a height of 93.9, of which a
// quarter must be seen.
func TestHaloMissing(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	with := func(height, from, lo float64) diagnose.Evidence {
		fit := &pattern.Fit{}
		for x := from; x < 90; x += 0.1 {
			fit.Setup.TwoTheta = append(fit.Setup.TwoTheta, x)
			fit.Background = append(fit.Background, 50+height*math.Exp(-math.Pow((x-22)/4.8, 2)))
		}
		match := identify.Match{Phase: refdata.Phase{ID: "corundum", RIR: refdata.RIR{Value: 1}},
			Lines: []pattern.LineFit{{Covered: true, Expected: 200, Line: refdata.Line{Intensity: 100}}, {Expected: 900, Line: refdata.Line{Intensity: 100}}}}
		return diagnose.Evidence{Facts: diagnose.Facts{Radiation: cu, Spike: &diagnose.StandardAdded{ID: "corundum", WeightPercent: 20}},
			Explanation: &identify.Explanation{Fit: fit, Matches: []identify.Match{match}},
			Amounts:     diagnose.Amounts{Answer: quantify.Answer{Amorphous: &quantify.Value{Percent: 50, Lo: lo, Hi: 55}}}}
	}
	for _, c := range []struct {
		why              string
		height, from, lo float64
		told             bool
	}{
		{"a flat background", 0, 10, 45, true},
		{"a fifth of the halo", 18, 10, 45, true},
		{"a third of it", 31, 10, 45, false},
		{"a scan that begins beyond the halo", 0, 30, 45, false},
		{"an amorphous part that may be none", 0, 10, 2, false},
	} {
		got := diagnose.NoHump(with(c.height, c.from, c.lo))
		assert.Equal(t, c.told, got != nil, c.why)
		if got != nil {
			assert.InDelta(t, 93.9, got.Expected, 0.1, c.why)
		}
	}
	without := with(0, 10, 45)
	without.Facts.Spike = nil
	assert.Nil(t, diagnose.NoHump(without), "no standard in the powder")
	blank := with(0, 10, 45)
	blank.Explanation.Fit.Setup.Blank = []float64{1}
	assert.Nil(t, diagnose.NoHump(blank), "a blank may have taken the halo")
}
