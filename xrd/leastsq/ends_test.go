package leastsq_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/leastsq"
)

// watched calls back before every evaluation.
type watched struct {
	leastsq.Separable
	before func()
}

func (w watched) Columns(theta []float64, phi [][]float64) {
	w.before()
	w.Separable.Columns(theta, phi)
}

func TestCancelledFitKeepsTheBestPoint(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	p := twoPeaks(6)
	whole := fitSeparable(t, p)
	calls := 0
	p.Model = watched{p.Model, func() {
		if calls++; calls == 3 {
			cancel()
		}
	}}
	r, err := new(leastsq.SeparableSolver).Fit(ctx, p, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, leastsq.Cancelled, r.Status)
	assert.Equal(t, 3, calls, "no evaluation after the iteration in which it was cancelled")
	assert.Greater(t, r.SumSquares, whole.SumSquares)
	assert.Len(t, r.Fitted, len(p.Y))
	assert.Nil(t, r.Covariance)
}

func TestLimits(t *testing.T) {
	p := twoPeaks(7)
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{MaxIterations: 2})
	require.NoError(t, err)
	assert.Equal(t, leastsq.IterationLimit, r.Status)
	assert.Equal(t, 2, r.Iterations)
	assert.Len(t, r.Covariance, 64)

	calls := 0
	p.Model = watched{p.Model, func() { calls++ }}
	r, err = new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{MaxEvaluations: 3})
	require.NoError(t, err)
	assert.Equal(t, leastsq.EvaluationLimit, r.Status)
	assert.Equal(t, 3, calls)
}

// backwards has derivatives of the wrong sign.
type backwards struct{ gaussians }

func (b backwards) Derivatives(theta, c []float64, jac [][]float64) {
	b.gaussians.Derivatives(theta, c, jac)
	for _, row := range jac {
		for i := range row {
			row[i] = -row[i]
		}
	}
}

func TestStuck(t *testing.T) {
	p := twoPeaks(8)
	p.Model = backwards{p.Model.(gaussians)}
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, leastsq.Stuck, r.Status)
}

// unknowable has a derivative that is not a number.
type unknowable struct{ gaussians }

func (u unknowable) Derivatives(theta, c []float64, jac [][]float64) {
	u.gaussians.Derivatives(theta, c, jac)
	jac[1][7] = math.NaN()
}

func TestDerivativeThatIsNotFinite(t *testing.T) {
	p := twoPeaks(8)
	p.Model = unknowable{p.Model.(gaussians)}
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
	require.NoError(t, err)
	assert.Equal(t, leastsq.Stuck, r.Status)
	assert.Nil(t, r.Covariance)
}

// forbidden is not defined where the first peak would be narrower than 5.
type forbidden struct{ gaussians }

func (f forbidden) Columns(theta []float64, phi [][]float64) {
	f.gaussians.Columns(theta, phi)
	if theta[2] < 5 {
		phi[1][0] = math.NaN()
	}
}

func TestModelThatIsNotFinite(t *testing.T) {
	p := twoPeaks(9)
	want := fitSeparable(t, p)
	p.Model = forbidden{p.Model.(gaussians)}
	p.Theta[2] = 5.01
	assert.InEpsilonSlice(t, want.Theta, fitSeparable(t, p).Theta, 1e-6)
	p.Theta[2] = 4.9
	_, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
	assert.ErrorIs(t, err, leastsq.ErrInput)
}

// TestExactData has residuals of nothing but rounding.
func TestExactData(t *testing.T) {
	p := twoPeaks(10)
	truth := []float64{90, 60, 25, 0.01, 44, 7, 60, 8}
	phi := make([][]float64, 3)
	for j := range phi {
		phi[j] = make([]float64, len(p.Y))
	}
	p.Model.Columns(truth[3:], phi)
	for i := range p.Y {
		p.Y[i] = 0
		for j, row := range phi {
			p.Y[i] += truth[j] * row[i]
		}
	}
	r := fitSeparable(t, p)
	assert.InEpsilonSlice(t, truth[3:], r.Theta, 1e-7)
	assert.InEpsilonSlice(t, truth[:3], r.C, 1e-7)
	p.Y = make([]float64, len(p.Y)) // nothing to see
	r = fitSeparable(t, p)
	assert.Zero(t, r.SumSquares)
	assert.Equal(t, []float64{0, 0, 0}, r.C)
	assert.Equal(t, []int{3, 4, 5, 6, 7}, r.Undetermined, "peaks without height have no place")
}

func TestUnusableInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, spoil := range map[string]func(*leastsq.SeparableProblem){
		"no model":            func(p *leastsq.SeparableProblem) { p.Model = nil },
		"no points":           func(p *leastsq.SeparableProblem) { p.Model, p.Y, p.Sigma = gaussians{}, nil, nil },
		"missing datum":       func(p *leastsq.SeparableProblem) { p.Y = p.Y[1:] },
		"datum not a number":  func(p *leastsq.SeparableProblem) { p.Y[3] = nan },
		"missing σ":           func(p *leastsq.SeparableProblem) { p.Sigma = p.Sigma[1:] },
		"σ zero":              func(p *leastsq.SeparableProblem) { p.Sigma[0] = 0 },
		"σ not a number":      func(p *leastsq.SeparableProblem) { p.Sigma[0] = nan },
		"σ infinite":          func(p *leastsq.SeparableProblem) { p.Sigma[0] = inf },
		"σ beyond arithmetic": func(p *leastsq.SeparableProblem) { p.Sigma[0] = 5e-324 },
		"missing start":       func(p *leastsq.SeparableProblem) { p.Theta = p.Theta[1:] },
		"start not a number":  func(p *leastsq.SeparableProblem) { p.Theta[0] = nan },
		"missing bound":       func(p *leastsq.SeparableProblem) { p.Lower = []float64{1} },
		"bounds crossed": func(p *leastsq.SeparableProblem) {
			p.Lower, p.Upper = []float64{1, 0, 0, 0, 0}, []float64{0, 1, 1, 1, 1}
		},
		"bound not a number":      func(p *leastsq.SeparableProblem) { p.Upper = []float64{1, 1, nan, 1, 1} },
		"missing prior":           func(p *leastsq.SeparableProblem) { p.ThetaPrior = make([]leastsq.Prior, 4) },
		"missing linear prior":    func(p *leastsq.SeparableProblem) { p.LinearPrior = make([]leastsq.Prior, 4) },
		"prior negative":          func(p *leastsq.SeparableProblem) { p.LinearPrior = []leastsq.Prior{{Sigma: -1}, {}, {}} },
		"prior beyond arithmetic": func(p *leastsq.SeparableProblem) { p.LinearPrior = []leastsq.Prior{{Sigma: 1e-200}, {}, {}} },
		"prior not a number":      func(p *leastsq.SeparableProblem) { p.LinearPrior = []leastsq.Prior{{Mean: nan}, {}, {}} },
		"missing flag":            func(p *leastsq.SeparableProblem) { p.NonNegative = []bool{true} },
		"too large for memory":    func(p *leastsq.SeparableProblem) { p.Model = huge{} },
	} {
		p := twoPeaks(11)
		spoil(&p)
		_, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
		assert.ErrorIs(t, err, leastsq.ErrInput, name)
	}
}

// huge claims more numbers than fit into memory.
type huge struct{ gaussians }

func (huge) Size() (points, linear, nonlinear int) { return math.MaxInt, math.MaxInt, math.MaxInt }
