package quantify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

func TestAmorphous(t *testing.T) {
	for _, c := range []struct {
		name, source  string
		w, c, r, want float64
		delta         float64
	}{
		{"no glass", "by hand: R = W", 0.2, 1, 0.2, 0, 1e-12},
		{"20 % standard read as 25 %", "d_quantification_read.csv: of the spiked powder 1 − a/m = 1 − 20/25 = 0.2; of the original 0.2/0.8", 0.2, 1, 0.25, 0.25, 1e-12},
		{"standard of 99.02 % taken as perfect", "PRACTICE 1.7: −1.0 wt% in a crystalline powder; R = cW/(1 − (1 − c)W)", 0.3, 1, 0.9902 * 0.3 / (1 - 0.0098*0.3), -0.010, 0.0005},
		{"the same with its crystallinity", "nothing is amorphous but the standard's own part", 0.3, 0.9902, 0.9902 * 0.3 / (1 - 0.0098*0.3), 0, 1e-12},
		{"a standard that reads low", "by hand: (1 − 0.2/0.19)/0.8; negative is information", 0.2, 1, 0.19, -0.065789, 1e-6},
	} {
		require.NotEmpty(t, c.source, c.name)
		assert.InDelta(t, c.want, quantify.Amorphous(c.w, c.c, c.r), c.delta, "%s (%s)", c.name, c.source)
	}
}

// spiked is a powder with 20 wt% of standard (phase 2). Amounts 300/2 = 150, 200/4 = 50 and 50/1 = 50 of 250: the analysis
// finds 60, 20 and 20 wt% of standard: nothing is amorphous. With 200/4 = 50 → 100/4 = 25 the sum is 225, R = 22.22 %,
// amorphous (1 − 0.2/0.2222)/0.8 = 12.5 % of the original, and the phases 150/225·0.9/0.8 = 75 % and 12.5 %.
func spiked(t *testing.T, scales []float64) quantify.Input {
	phases := []refdata.Phase{invented(0, 2), invented(1, 4), invented(2, 1)}
	return quantify.Input{Fit: exact(t, phases, scales, []float64{3, 2, 1}), Threshold: 4,
		Roles: []quantify.Role{quantify.Specimen, quantify.Specimen, quantify.Standard}, Spike: &quantify.Spike{Phase: 2, WeightPercent: 20}}
}

func TestInternalStandard(t *testing.T) {
	a := quantify.Run(spiked(t, []float64{300, 200, 50}))
	require.NotNil(t, a.Amorphous)
	assert.InDelta(t, 0, a.Amorphous.Percent, 1e-9)
	assert.InDelta(t, 75, a.Fractions[0].Original.Percent, 1e-9)
	assert.InDelta(t, 25, a.Fractions[1].Original.Percent, 1e-9)
	assert.True(t, math.IsNaN(a.Fractions[2].Weight.Percent), "the standard is no part of the specimen")

	a = quantify.Run(spiked(t, []float64{300, 100, 50}))
	assert.InDelta(t, 12.5, a.Amorphous.Percent, 1e-9)
	assert.InDelta(t, 75, a.Fractions[0].Original.Percent, 1e-9)
	assert.InDelta(t, 12.5, a.Fractions[1].Original.Percent, 1e-9)
	assert.InDelta(t, 100*6./7, a.Fractions[0].Weight.Percent, 1e-9, "of the crystalline part: 150/175")
}

// TestInternalStandardUncertainty draws scales, RIRs and crystallinity and compares the spread of the results.
func TestInternalStandardUncertainty(t *testing.T) {
	in := spiked(t, []float64{300, 100, 50})
	in.Spike.Crystallinity, in.Spike.CrystallinityU = 0.95, 0.05
	a := quantify.Run(in)
	rnd := rand.New(rand.NewPCG(4, 4))
	const n = 40000
	var sum, squares [3]float64
	for range n {
		x := [3]float64{150, 25, 50}
		for i, u := range []float64{3. / 300, 2. / 100, 1. / 50} {
			x[i] *= 1 + u*rnd.NormFloat64() + 0.05*rnd.NormFloat64()
		}
		c := 0.95 + 0.05*rnd.NormFloat64()
		r := x[2] / (x[0] + x[1] + x[2])
		got := [3]float64{100 * x[0] / x[2] * c * 0.2 / 0.8, 100 * x[1] / x[2] * c * 0.2 / 0.8, 100 * quantify.Amorphous(0.2, c, r)}
		for i, v := range got {
			sum[i] += v
			squares[i] += v * v
		}
	}
	u := func(i int) float64 { return math.Sqrt(squares[i]/n - sum[i]/n*sum[i]/n) }
	half := (a.Amorphous.Hi - a.Amorphous.Lo) / 2
	assert.InEpsilon(t, 1.96*u(2), half, 0.03, "curvature and sampling")
	for i := range 2 {
		v := a.Fractions[i].Original
		lo, hi := quantify.Interval(v.Percent, u(i), quantify.Z95)
		assert.InEpsilon(t, lo, v.Lo, 0.03)
		assert.InEpsilon(t, hi, v.Hi, 0.03)
	}
}

// TestStandardNotShown: a standard without intensity gives no absolute answer.
func TestStandardNotShown(t *testing.T) {
	in := spiked(t, []float64{300, 100, 50})
	in.Fit.Scales[2] = 0
	a := quantify.Run(in)
	assert.Nil(t, a.Amorphous)
	assert.True(t, math.IsNaN(a.Fractions[0].Original.Percent))
	assert.InDelta(t, 100*6./7, a.Fractions[0].Weight.Percent, 1e-9, "the normalised answer stands")
	for _, w := range []float64{0, 100, -5, math.NaN()} {
		in := spiked(t, []float64{300, 100, 50})
		in.Spike.WeightPercent = w
		assert.Nil(t, quantify.Run(in).Amorphous, "%g", w)
	}
}

// A fifth of standard is found as a quarter: a quarter of the original is amorphous.
func ExampleAmorphous() {
	fmt.Printf("%.2f\n", quantify.Amorphous(0.20, 1, 0.25))
	// Output:
	// 0.25
}
