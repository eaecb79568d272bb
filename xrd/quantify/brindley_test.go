package quantify_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// TestBrindley holds the factor against an integral that was worked out apart from this code.
func TestBrindley(t *testing.T) {
	const source = "f_derived_worked_numbers.csv (derived)"
	for _, c := range []struct{ x, forward, back float64 }{
		{-0.1, 1.1627, 1.1674}, {-0.05, 1.0781, 1.0792}, {-0.01, 1.0151, 1.0152}, {0.01, 0.9851, 0.9852},
		{0.05, 0.9279, 0.9288}, {0.1, 0.8614, 0.8648}, {0.2, 0.7431, 0.7546}, {0.5, 0.4818, 0.5273},
	} {
		assert.InDelta(t, c.forward, quantify.Brindley(c.x, 0), 6e-5, "x = %g, 2θ = 0 (%s)", c.x, source)
		assert.InDelta(t, c.back, quantify.Brindley(c.x, 180), 6e-5, "x = %g, 2θ = 180 (%s)", c.x, source)
	}
	assert.InDelta(t, 1, quantify.Brindley(0, 70), 1e-12, "nothing is absorbed more than the mean")
	assert.True(t, math.IsNaN(quantify.Brindley(math.NaN(), 70)))
	assert.True(t, math.IsNaN(quantify.Brindley(0.1, math.NaN())))
	// Exact at 2θ = 0: the path is the whole chord 2t, so that τ = 3 ∫ t² exp(−2xt) dt = 3[1 − e^−2x(1 + 2x + 2x²)]/(4x³).
	for _, x := range []float64{-0.7, 0.3, 1} {
		exact := 3 * (1 - math.Exp(-2*x)*(1+2*x+2*x*x)) / (4 * x * x * x)
		assert.InEpsilon(t, exact, quantify.Brindley(x, 0), 1e-4, "x = %g", x)
	}
	// To first order τ = 1 − (3/2) x at every angle (from memory: the mean way through a sphere is 3R/2).
	for _, angle := range []float64{0, 40, 90, 150, 180} {
		assert.InDelta(t, -1.5, (quantify.Brindley(1e-5, angle)-1)/1e-5, 1e-3, "%g°", angle)
	}
}

func TestClassOfGrain(t *testing.T) {
	// μD: 100/cm × 0.5 µm = 0.005; × 5 µm = 0.05; × 50 µm = 0.5; × 500 µm = 5 (classes of Brindley, from memory).
	for d, want := range map[float64]quantify.GrainClass{0.5: quantify.FineGrains, 5: quantify.MediumGrains, 50: quantify.CoarseGrains, 500: quantify.HugeGrains} {
		assert.Equal(t, want, quantify.ClassOfGrain(100, d), "%g µm", d)
	}
}

// TestGrains: a heavy phase of 2000/cm and a light one of 200/cm, of which the true mixture is 50:50 by weight at equal
// density: μ̄ = 1100/cm. Grains of 2 µm: x = ±900·1e-4 = ±0.09, so that intensities are those of the mixture times τ;
// dividing by τ must give the mixture back although μ̄ is only known from the answer.
func TestGrains(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	for i, mu := range []float64{2000, 200} {
		phases[i].Density, phases[i].MassAbsorption = 5, mu/5
		phases[i].Lines[0].TwoTheta = 27 // of the strongest line
	}
	heavy, light := quantify.Brindley(0.09, 27), quantify.Brindley(-0.09, 27)
	in := quantify.Input{Fit: exact(t, phases, []float64{100 * heavy, 100 * light}, []float64{1, 1}), Roles: make([]quantify.Role, 2)}
	plain := quantify.Run(in)
	require.Less(t, plain.Fractions[0].Weight.Percent, 44.0)
	assert.False(t, math.IsNaN(plain.Fractions[0].Coarse.Percent))
	in.Grain = []float64{2, 2}
	a := quantify.Run(in)
	assert.InDelta(t, 50, a.Fractions[0].Weight.Percent, 1e-4)
	assert.True(t, math.IsNaN(a.Fractions[0].Coarse.Percent), "the size is given: no limit is needed")
	// 30 % of ln τ of each, both at 50 wt%: u = 50·50/100·√(Σ(0.3 ln τ)²).
	want := 25 * 0.3 * math.Hypot(math.Log(heavy), math.Log(light))
	var u float64
	for _, s := range a.Fractions[0].Budget {
		if s.Name == "absorption in grains" {
			u = s.U
		}
	}
	assert.InEpsilon(t, want, u, 1e-4)
	in.Grain = []float64{0, 2}
	assert.Less(t, quantify.Run(in).Fractions[0].Weight.Percent, 50.0, "only the light phase is corrected")
	in.Fit.Setup.Phases[1].MassAbsorption = 0
	assert.Equal(t, plain.Fractions[0].Weight.Percent, quantify.Run(in).Fractions[0].Weight.Percent, "absorption unknown: nothing is corrected")
}

// A sphere that absorbs more than its surroundings shows less of itself.
func ExampleBrindley() {
	fmt.Printf("%.3f\n", quantify.Brindley(0.1, 60))
	// Output: 0.862
}
