package leastsq_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/leastsq"
)

// TestDerivativesByDifferences hides the derivatives of NIST models from the fit. Central differences are exact to about
// ε^⅔ = 4e-11, which the condition of these problems turns into fewer digits.
func TestDerivativesByDifferences(t *testing.T) {
	for _, name := range []string{"Misra1a", "BoxBOD", "MGH09", "Thurber", "Hahn1", "Gauss1"} {
		set := typedSet(t, name)
		p := set.problem(1)
		p.Model = valuesOnly{p.Model}
		r, err := leastsq.Fit(context.Background(), p, leastsq.Settings{})
		require.NoError(t, err)
		assert.Equal(t, leastsq.Converged, r.Status, name)
		t.Logf("%-8s digits %.1f, %.1f", name, leastLRE(r.Parameters, set.parameters), leastLRE(r.ScaledUncertainties(), set.deviations))
		assert.GreaterOrEqual(t, leastLRE(r.Parameters, set.parameters), 6.0, name)
		assert.GreaterOrEqual(t, leastLRE(r.ScaledUncertainties(), set.deviations), 6.0, name)
	}
}

// parabola is b_0 + b_1 x + b_2 x², with an outside solution by hand.
var parabola = curveModel{func(b, x, d []float64) float64 {
	d[0], d[1], d[2] = 1, x[0], x[0]*x[0]
	return b[0] + b[1]*x[0] + b[2]*x[0]*x[0]
}, [][]float64{{0}, {1}, {2}, {3}, {4}}, 3}

func TestFitFixedAndPrior(t *testing.T) {
	y := []float64{1, 1.9, 2.6, 3.1, 3.4}
	for _, model := range []leastsq.Model{parabola, valuesOnly{parabola}} {
		r, err := leastsq.Fit(context.Background(), leastsq.Problem{
			Model: model, Y: y, Start: []float64{0, 0, 5},
			Lower: []float64{-9, -9, 0}, Upper: []float64{9, 9, 0},
		}, leastsq.Settings{})
		require.NoError(t, err)
		// derived: the straight line by hand, as in TestSeparableNonNegative
		assert.InDeltaSlice(t, []float64{1.2, 0.6, 0}, r.Parameters, 1e-9)
		assert.InDeltaSlice(t, []float64{math.Sqrt(0.6), math.Sqrt(0.1), 0}, r.StandardUncertainties(), 1e-9, "√(1/5 + 2²/10), √(1/10)")
		assert.Equal(t, 3, r.DegreesOfFreedom())
		assert.InDelta(t, math.Sqrt(0.14/3), r.ResidualSD(), 1e-9, "residuals −0.2, 0.1, 0.2, 0.1, −0.2")
		assert.InDelta(t, math.Sqrt(0.1*0.14/3), r.ScaledUncertainties()[1], 1e-9)
	}
}

func TestFitPriorIsAnotherDatum(t *testing.T) {
	y, sigma := []float64{1, 2, 5, 9, 17.5}, []float64{1, 1, 0.5, 1, 2}
	with := leastsq.Problem{
		Model: parabola, Y: y, Sigma: sigma, Start: []float64{1, 1, 1},
		Prior: []leastsq.Prior{{}, {Mean: -1, Sigma: 0.2}, {}},
	}
	longer := curveModel{func(b, x, d []float64) float64 {
		if x[0] < 0 { // the datum
			d[0], d[1], d[2] = 0, 1, 0
			return b[1]
		}
		return parabola.curve(b, x, d)
	}, append(slices.Clone(parabola.x), []float64{-1}), 3}
	a, err := leastsq.Fit(context.Background(), with, leastsq.Settings{})
	require.NoError(t, err)
	b, err := leastsq.Fit(context.Background(), leastsq.Problem{
		Model: longer, Y: append(slices.Clone(y), -1), Sigma: append(slices.Clone(sigma), 0.2), Start: []float64{1, 1, 1},
	}, leastsq.Settings{})
	require.NoError(t, err)
	assert.InDelta(t, b.Iterations, a.Iterations, 2, "the prior must take the same way, but for rounding")
	assert.InEpsilonSlice(t, b.Parameters, a.Parameters, 1e-10)
	assert.InEpsilonSlice(t, b.Covariance, a.Covariance, 1e-10)
	assert.InEpsilon(t, b.SumSquares, a.SumSquares+a.Penalty, 1e-12)
	assert.Equal(t, b.DegreesOfFreedom(), a.DegreesOfFreedom())
}

func TestFitBounds(t *testing.T) {
	set := typedSet(t, "Misra1a")
	p := set.problem(0)
	p.Upper = []float64{230, math.Inf(1)} // the minimum is at 238.9
	r, err := leastsq.Fit(context.Background(), p, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, leastsq.Converged, r.Status)
	assert.Equal(t, 230.0, r.Parameters[0])
	jac, slope := rows(2, len(p.Y)), make([]float64, 2)
	p.Model.(leastsq.Differentiable).Derivatives(r.Parameters, jac)
	for k, row := range jac {
		for i, v := range row {
			slope[k] += v * (p.Y[i] - r.Fitted[i])
		}
	}
	assert.Positive(t, slope[0])
	assert.InDelta(t, 0, slope[1]*r.StandardUncertainties()[1], 1e-6)
	assert.Zero(t, r.Covariance[0])
}

func TestFitUndetermined(t *testing.T) {
	double := curveModel{func(b, x, d []float64) float64 { // b_0 and b_1 only as a product with b_2 beside
		d[0], d[1], d[2], d[3] = b[1], b[0], x[0], 0
		return b[0]*b[1] + b[2]*x[0]
	}, parabola.x, 4}
	r, err := leastsq.Fit(context.Background(), leastsq.Problem{
		Model: double, Y: []float64{6, 7, 8.5, 9, 10}, Start: []float64{1, 2, 3, 4},
	}, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, leastsq.Converged, r.Status)
	assert.ElementsMatch(t, []int{0, 1, 3}, r.Undetermined)
	assert.InDelta(t, 0.1, r.Covariance[2*4+2], 1e-9, "1/Σ(x−2)²: what is determined keeps its variance")
	assert.InDelta(t, 1, r.Parameters[2], 1e-8, "derived: Σ(x−2)y/10")
}

// TestFitDoesNotPretend has a model that does not see its parameter.
func TestFitDoesNotPretend(t *testing.T) {
	flat := curveModel{func(b, x, d []float64) float64 {
		d[0] = 0
		return 3
	}, parabola.x, 1}
	r, err := leastsq.Fit(context.Background(), leastsq.Problem{Model: flat, Y: []float64{1, 2, 3, 4, 5}, Start: []float64{1}}, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, []int{0}, r.Undetermined)
	assert.Equal(t, 10.0, r.SumSquares)
}

func TestCheckModelOnSTRDCurves(t *testing.T) {
	for _, typed := range typedSets {
		set := typedSet(t, typed.name)
		model := set.problem(0).Model.(leastsq.Differentiable)
		assert.NoError(t, leastsq.CheckModel(model, set.parameters), typed.name)
		assert.NoError(t, leastsq.CheckModel(model, set.starts[1]), typed.name)
	}
}

// TestCheckDerivativesFindsFaults breaks one derivative at one point by a hundred-thousandth.
func TestCheckDerivativesFindsFaults(t *testing.T) {
	p := twoPeaks(1)
	c := []float64{90, 60, 25}
	require.NoError(t, leastsq.CheckDerivatives(p.Model, p.Theta, c))
	require.NoError(t, leastsq.CheckDerivatives(p.Model, p.Theta, []float64{90, 0, 25}))
	err := leastsq.CheckDerivatives(faulty{p.Model.(gaussians)}, p.Theta, c)
	assert.ErrorContains(t, err, "parameter 3 (62) at point 170")
	for _, slope := range []float64{1, 1.01} { // a small effect on a large value
		model := curveModel{func(b, x, d []float64) float64 {
			d[0] = slope * x[0]
			return 1e6 + b[0]*x[0]
		}, parabola.x, 1}
		assert.Equal(t, slope == 1, leastsq.CheckModel(model, []float64{1e-3}) == nil, slope)
	}
	assert.ErrorIs(t, leastsq.CheckDerivatives(p.Model, nil, c), leastsq.ErrInput)
	assert.ErrorIs(t, leastsq.CheckModel(parabola, c[:1]), leastsq.ErrInput)
}

type faulty struct{ gaussians }

func (f faulty) Derivatives(theta, c []float64, jac [][]float64) {
	f.gaussians.Derivatives(theta, c, jac)
	jac[3][170] *= 1 + 1e-5
}
