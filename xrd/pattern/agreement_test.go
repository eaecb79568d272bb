package pattern_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// TestAgreement recomputes the indices of a fit from its own curves with the textbook sums.
func TestAgreement(t *testing.T) {
	r := copper(t)
	s := truth{phases: starters(t, r, "copper"), scales: []float64{100}, stretch: []float64{0}, background: 20}
	x := angles(35, 80, 0.05)
	f, err := pattern.Run(context.Background(), setup(x, counted(s.expected(x, r, setup(nil, nil, r, nil).Instrument), 3), r, s.phases), pattern.Quick)
	require.NoError(t, err)
	var rss, yy, net, dw, last float64
	for i, y := range f.Setup.Intensity {
		d := (y - f.Fitted[i]) / math.Sqrt(f.Noise[i])
		rss += d * d
		yy += y * y / f.Noise[i]
		net += math.Pow(y-f.Background[i], 2) / f.Noise[i]
		if i > 0 {
			dw += math.Pow(d-last, 2)
		}
		last = d
	}
	// Free in a quick fit: displacement, W, X, the cell; the scale and the background.
	free := float64(len(x) - (4 + 1 + f.Knots + 3))
	assert.InEpsilon(t, math.Sqrt(rss/yy), f.Agreement.RWP, 1e-9)
	assert.InEpsilon(t, math.Sqrt(rss/net), f.Agreement.RWPBackground, 1e-9)
	assert.InEpsilon(t, math.Sqrt(free/yy), f.Agreement.RExp, 1e-9)
	assert.InEpsilon(t, rss/free, f.Agreement.ReducedChiSquare, 1e-9)
	assert.InEpsilon(t, dw/rss, f.Agreement.DurbinWatson, 1e-9)
	assert.InDelta(t, 1, f.Agreement.ReducedChiSquare, 4*math.Sqrt(2/free), "the model is true, so χ² is 1")
	assert.InDelta(t, 2, f.Agreement.DurbinWatson, 4*2/math.Sqrt(free), "and the residuals are independent")
}

// TestSerialFactor: independent residuals widen nothing. Where each residual stands m times, n points tell no more than
// n/m, so that uncertainties are √m too small: exactly what the factor must give back.
func TestSerialFactor(t *testing.T) {
	const n = 20000
	factor := func(residual []float64) float64 {
		variance := make([]float64, n)
		for i := range variance {
			variance[i] = 1
		}
		return pattern.BerarLelannFactor(&pattern.Fit{Setup: pattern.Setup{Intensity: residual}, Fitted: make([]float64, n), Variance: variance})
	}
	rnd := rand.New(rand.NewPCG(9, 9))
	white := make([]float64, n)
	for i := range white {
		white[i] = rnd.NormFloat64()
	}
	assert.InDelta(t, 1, factor(white), 0.03)
	for _, m := range []int{4, 9} {
		repeated := make([]float64, n)
		for i := range repeated {
			repeated[i] = white[i/m]
		}
		assert.InEpsilon(t, math.Sqrt(float64(m)), factor(repeated), 0.05)
	}
	assert.Equal(t, 1.0, factor(make([]float64, n)), "no residual at all")
}

// TestWorkedNumbers: Scherrer and strain, arithmetic by hand.
func TestWorkedNumbers(t *testing.T) {
	// K λ/Γ = 0.9 · 1.5406 Å/(0.1° · π/180) = 1.38654/0.00174533 = 794.43 Å = 79.443 nm.
	assert.InDelta(t, 79.443, pattern.SizeNM(0.1, 1.5406), 5e-4)
	// Γ/4 = 0.2° · π/180/4 = 8.7266e-4.
	assert.InDelta(t, 8.7266e-4, pattern.StrainOf(0.2), 5e-9)
}

// TestCalculate equals scale × column of a model with the same displacement and cell.
func TestCalculate(t *testing.T) {
	r := copper(t)
	x := angles(20, 100, 0.05)
	zero, phase := make([]float64, len(x)), starter(t, "corundum", r)
	s := setup(x, zero, r, []refdata.Phase{phase})
	m, err := pattern.NewModel(s)
	require.NoError(t, err)
	pattern.Set(m, pattern.Displacement, -1, 0.2)
	pattern.Set(m, pattern.CellA, 0, 0.001)
	pattern.Set(m, pattern.CellC, 0, 0.001)
	_, linear, _ := m.Size()
	phi := make([][]float64, linear)
	for j := range phi {
		phi[j] = make([]float64, len(x))
	}
	m.Columns(nil, phi)
	got := pattern.Calculate(s, phase, 7, 0.2, 0.001)
	require.Greater(t, got[len(got)/2], 0.0)
	for i := range x {
		require.InDelta(t, 7*phi[0][i], got[i], 1e-9)
	}
}
