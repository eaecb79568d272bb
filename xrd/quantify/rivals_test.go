package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// TestAmongRivals: where a name could as well be another, intervals hold what the other would give; by hand: the rival scatters four
// times as much per mass, so that 60 wt% are 15 beside 40, 27.3 %.
func TestAmongRivals(t *testing.T) {
	in := powderOf(t, 20, 20)
	plain := quantify.Run(in)
	rival := in.Fit.Setup.Phases[0]
	rival.RIR.Value *= 4
	in.Rivals = [][]refdata.Phase{{rival}, nil}
	a := quantify.Run(in)
	w := plain.Fractions[0].Weight
	want := 100 * w.Percent / 4 / (100 - w.Percent + w.Percent/4)
	f := a.Fractions[0].Weight
	assert.InDelta(t, w.Percent, f.Percent, 1e-12, "the value is that of the name")
	assert.Less(t, f.Lo, want)
	assert.InDelta(t, w.Hi, f.Hi, 1e-9)
	assert.Greater(t, a.Fractions[1].Weight.Hi, 100-want)
	assert.InDelta(t, (w.Percent-want)/math.Sqrt(3), sourceU(a.Fractions[0], "another phase with the same lines"), 1e-9)
	assert.Less(t, a.Fractions[0].Volume.Lo, plain.Fractions[0].Volume.Lo)
	for k, f := range a.Fractions {
		assert.GreaterOrEqual(t, f.Weight.Lo, 0.0)
		assert.LessOrEqual(t, f.Weight.Hi, 100.0, "phase %d", k)
	}
	rival.RIR.Value = 0 // nothing is known of it
	in.Rivals = [][]refdata.Phase{{rival}, nil}
	assert.Equal(t, plain.Fractions[0].Weight, quantify.Run(in).Fractions[0].Weight)
}

// TestWithoutHidden: a phase that shows no line of its own need not be there. By hand: what it gives is given to the other by their
// ratios, so that of two phases the other is all of the specimen; of a phase that shows lines nothing changes.
func TestWithoutHidden(t *testing.T) {
	in := powderOf(t, 20, 20)
	plain := quantify.Run(in)
	in.Hidden = []bool{false, false}
	assert.Equal(t, plain.Fractions[1].Weight, quantify.Run(in).Fractions[1].Weight, "both show lines")

	in.Hidden[1] = true
	a := quantify.Run(in)
	assert.Equal(t, 0.0, a.Fractions[1].Weight.Lo)
	assert.Equal(t, 0.0, a.Fractions[1].Volume.Lo)
	assert.InDelta(t, plain.Fractions[1].Weight.Hi, a.Fractions[1].Weight.Hi, 1e-9)
	assert.InDelta(t, 100, a.Fractions[0].Weight.Hi, 1e-9)
	assert.InDelta(t, plain.Fractions[0].Weight.Lo, a.Fractions[0].Weight.Lo, 1e-9)
	for k, f := range a.Fractions {
		w := plain.Fractions[k].Weight.Percent
		assert.InDelta(t, w, f.Weight.Percent, 1e-12, "values stay")
		assert.InDelta(t, math.Abs([]float64{100, 0}[k]-w)/math.Sqrt(3), sourceU(f, "a phase without a line of its own"), 1e-9)
	}
	in.Roles[0] = quantify.Preparation
	assert.Positive(t, quantify.Run(in).Fractions[1].Weight.Lo, "alone it is all there is")
}
