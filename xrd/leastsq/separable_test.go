package leastsq_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/leastsq"
)

// twoPeaks is an invented scan: two overlapping peaks on a decaying background, with noise.
func twoPeaks(seed uint64) leastsq.SeparableProblem {
	random := rand.New(rand.NewPCG(seed, 7))
	p := leastsq.SeparableProblem{Theta: []float64{0.012, 45, 6, 62, 9}}
	var g gaussians
	for i := range 300 {
		x := float64(i) / 3
		u, v := (x-44)/7, (x-60)/8
		y := 90*math.Exp(-0.01*x) + 60*math.Exp(-u*u) + 25*math.Exp(-v*v)
		sigma := 1 + 0.01*x
		g.x = append(g.x, x)
		p.Y = append(p.Y, y+sigma*random.NormFloat64())
		p.Sigma = append(p.Sigma, sigma)
	}
	p.Model = g
	return p
}

func fitSeparable(t *testing.T, p leastsq.SeparableProblem) leastsq.SeparableResult {
	t.Helper()
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
	require.NoError(t, err)
	require.Equal(t, leastsq.Converged, r.Status)
	return r
}

// scaled is a model in other units: x in units of length, heights in units of height.
type scaled struct {
	gaussians
	length, height float64
}

func (s scaled) natural(theta []float64) []float64 {
	return []float64{
		theta[0] * s.length, theta[1] / s.length, theta[2] / s.length, theta[3] / s.length, theta[4] / s.length,
	}
}

func (s scaled) Columns(theta []float64, phi [][]float64) {
	s.gaussians.Columns(s.natural(theta), phi)
	for _, row := range phi {
		for i := range row {
			row[i] *= s.height
		}
	}
}

func (s scaled) Derivatives(theta, c []float64, jac [][]float64) {
	s.gaussians.Derivatives(s.natural(theta), c, jac)
	for k, row := range jac {
		for i := range row {
			if k == 0 {
				row[i] *= s.length * s.height
			} else {
				row[i] *= s.height / s.length
			}
		}
	}
}

func TestSeparableDoesNotDependOnUnits(t *testing.T) {
	p := twoPeaks(2)
	natural := fitSeparable(t, p)
	s := scaled{p.Model.(gaussians), 1e7, 1e-5}
	p.Model = s
	p.Theta = []float64{p.Theta[0] / s.length, p.Theta[1] * s.length, p.Theta[2] * s.length, p.Theta[3] * s.length, p.Theta[4] * s.length}
	r := fitSeparable(t, p)
	assert.Equal(t, natural.Iterations, r.Iterations)
	assert.InEpsilon(t, natural.SumSquares, r.SumSquares, 1e-12)
	for k, v := range s.natural(r.Theta) {
		assert.InEpsilon(t, natural.Theta[k], v, 1e-9)
	}
	for j, c := range r.C {
		assert.InEpsilon(t, natural.C[j], c*s.height, 1e-9)
		assert.InEpsilon(t, natural.Covariance[j*8+j], r.Covariance[j*8+j]*s.height*s.height, 1e-7)
	}
}

func TestSeparableDoesNotDependOnOrder(t *testing.T) {
	p := twoPeaks(3)
	sorted := fitSeparable(t, p)
	g, order := p.Model.(gaussians), rand.New(rand.NewPCG(5, 5)).Perm(len(p.Y))
	mixed := p
	mixed.Y, mixed.Sigma = nil, nil
	var x []float64
	for _, i := range order {
		x, mixed.Y, mixed.Sigma = append(x, g.x[i]), append(mixed.Y, p.Y[i]), append(mixed.Sigma, p.Sigma[i])
	}
	mixed.Model = gaussians{x}
	r := fitSeparable(t, mixed)
	assert.InEpsilon(t, sorted.SumSquares, r.SumSquares, 1e-12)
	assert.InEpsilonSlice(t, sorted.Theta, r.Theta, 1e-8)
	assert.InEpsilonSlice(t, sorted.C, r.C, 1e-8)
}

// withRow adds a point at which the model is c_0.
type withRow struct{ gaussians }

func (w withRow) Size() (points, linear, nonlinear int) { return len(w.x) + 1, 3, 5 }

func (w withRow) Columns(theta []float64, phi [][]float64) {
	w.gaussians.Columns(theta, phi)
	phi[0][len(w.x)], phi[1][len(w.x)], phi[2][len(w.x)] = 1, 0, 0
}

func (w withRow) Derivatives(theta, c []float64, jac [][]float64) {
	w.gaussians.Derivatives(theta, c, jac)
	for _, row := range jac {
		row[len(w.x)] = 0
	}
}

func TestSeparablePriorIsAnotherDatum(t *testing.T) {
	p := twoPeaks(4)
	datum := p
	p.LinearPrior = []leastsq.Prior{{Mean: 80, Sigma: 0.5}, {}, {}}
	datum.Model = withRow{p.Model.(gaussians)}
	datum.Y, datum.Sigma = append(slices.Clone(p.Y), 80), append(slices.Clone(p.Sigma), 0.5)
	a, b := fitSeparable(t, p), fitSeparable(t, datum)
	assert.InEpsilonSlice(t, b.C, a.C, 1e-9)
	assert.InEpsilonSlice(t, b.Theta, a.Theta, 1e-9)
	assert.InEpsilonSlice(t, b.Covariance, a.Covariance, 1e-6)
	assert.InEpsilon(t, b.SumSquares, a.SumSquares+a.Penalty, 1e-12)
	assert.Greater(t, a.Penalty, 1.0, "the prior is meant to pull")
}

// TestSeparableBounds checks the conditions of Karush, Kuhn and Tucker: no slope where a parameter is free, none that
// leads inward where it is on a bound.
func TestSeparableBounds(t *testing.T) {
	p := twoPeaks(5)
	p.Lower = []float64{0, 44.5, 6.2, 0, 0}
	p.Upper = []float64{1, 50, 6.2, 100, 7}
	r := fitSeparable(t, p)
	assert.Equal(t, []float64{44.5, 6.2, 7}, []float64{r.Theta[1], r.Theta[2], r.Theta[4]}, "the truth is 44, 7 and 8")
	slope := slopes(p, r)
	for j := range 3 {
		assert.InDelta(t, 0, slope[j]*math.Sqrt(r.Covariance[j*8+j]), 1e-6, "c %d", j)
	}
	for _, k := range []int{3, 6} { // θ_0 and θ_3
		assert.InDelta(t, 0, slope[k]*math.Sqrt(r.Covariance[k*8+k]), 1e-4, "parameter %d", k)
	}
	assert.Negative(t, slope[4], "would go below 44.5")
	assert.Positive(t, slope[7], "would go above 7")
	for _, k := range []int{4, 5, 7} {
		for j := range 8 {
			assert.Zero(t, r.Covariance[k*8+j])
			assert.Zero(t, r.Covariance[j*8+k])
		}
	}
	assert.Empty(t, r.Undetermined)
}

// slopes is half the negative gradient of the sum of squares by (c, θ).
func slopes(p leastsq.SeparableProblem, r leastsq.SeparableResult) []float64 {
	m, l, k := p.Model.Size()
	jac := make([][]float64, l+k)
	for j := range jac {
		jac[j] = make([]float64, m)
	}
	p.Model.Columns(r.Theta, jac[:l])
	p.Model.Derivatives(r.Theta, r.C, jac[l:])
	s := make([]float64, l+k)
	for j, row := range jac {
		for i, v := range row {
			s[j] += v * (p.Y[i] - r.Fitted[i]) / (p.Sigma[i] * p.Sigma[i])
		}
	}
	return s
}

// lines is a linear model with fixed columns; its one θ has no effect when idle.
type lines struct {
	columns [][]float64
	idle    int
}

func (l lines) Size() (points, linear, nonlinear int) {
	return len(l.columns[0]), len(l.columns), l.idle
}

func (l lines) Columns(_ []float64, phi [][]float64) {
	for j := range phi {
		copy(phi[j], l.columns[j])
	}
}

func (l lines) Derivatives(_, _ []float64, jac [][]float64) {
	for _, row := range jac {
		clear(row)
	}
}

// TestSeparableNonNegative has a column that the data want negative.
func TestSeparableNonNegative(t *testing.T) {
	columns := [][]float64{{1, 1, 1, 1, 1}, {0, 1, 2, 3, 4}, {0, 1, 4, 9, 16}}
	y := []float64{1, 1.9, 2.6, 3.1, 3.4} // bends down
	p := leastsq.SeparableProblem{Model: lines{columns, 0}, Y: y, NonNegative: []bool{false, true, true}}
	r := fitSeparable(t, p)
	assert.Zero(t, r.C[2])
	// derived: the straight line through these by hand, Σ(x−2)(y−ȳ)/10 = 0.6, ȳ − 2·0.6 = 1.2
	assert.InDelta(t, 0.6, r.C[1], 1e-12)
	assert.InDelta(t, 1.2, r.C[0], 1e-12)
	assert.InDelta(t, 0.1, r.Covariance[1*3+1], 1e-12, "1/Σ(x−2)²")
	assert.Zero(t, r.Covariance[2*3+2])
	// derived: the part of x² orthogonal to 1 and x on 0…4 is x² − 4x + 2 with Σ of squares 14
	assert.InDelta(t, 1.0/14, r.ZeroVariance[2], 1e-12)
	assert.InDelta(t, 0.1, r.ZeroVariance[1], 1e-12)
	assert.Empty(t, r.Undetermined)
}

func TestSeparableUndetermined(t *testing.T) {
	ramp, ones := []float64{0, 1, 2, 3, 4}, []float64{1, 1, 1, 1, 1}
	y := []float64{1, 3, 5, 7, 9.5}
	twin := []float64{2, 2, 2, 2, 2}
	none := make([]float64, 5)
	for _, c := range []struct {
		name        string
		columns     [][]float64
		nonNegative []bool
		prior       []leastsq.Prior
		idle        int
		want        []int
	}{
		{"all determined", [][]float64{ones, ramp}, nil, nil, 0, nil},
		{"two equal columns", [][]float64{ones, ramp, twin}, nil, nil, 0, []int{0, 2}},
		{"two equal columns, one known", [][]float64{ones, ramp, twin}, nil, []leastsq.Prior{{}, {}, {Mean: 0.2, Sigma: 0.1}}, 0, nil},
		{"two equal bounded columns", [][]float64{ones, ramp, twin}, []bool{true, true, true}, nil, 0, []int{2}},
		{"a column of zeros", [][]float64{ones, none, ramp}, nil, nil, 0, []int{1}},
		{"a bounded column of zeros", [][]float64{ones, none, ramp}, []bool{true, true, true}, nil, 0, []int{1}},
		{"a nonlinear parameter without effect", [][]float64{ones, ramp}, nil, nil, 1, []int{2}},
	} {
		r := fitSeparable(t, leastsq.SeparableProblem{
			Model: lines{c.columns, c.idle}, Y: y, Theta: make([]float64, c.idle), NonNegative: c.nonNegative, LinearPrior: c.prior,
		})
		assert.Equal(t, c.want, r.Undetermined, c.name)
		assert.InDelta(t, 0.1, r.SumSquares, 0.02, c.name) // the fit itself is as good: residual sum 0.1 by hand
		for _, v := range r.Covariance {
			assert.False(t, math.IsNaN(v) || math.IsInf(v, 0), c.name)
		}
	}
}

// TestSeparableUncertainties fits many noisy scans: deviations from the truth must be as large as stated.
func TestSeparableUncertainties(t *testing.T) {
	truth := []float64{90, 60, 25, 0.01, 44, 7, 60, 8}
	const trials = 400
	sum := make([]float64, 8)
	for seed := range uint64(trials) {
		r := fitSeparable(t, twoPeaks(1000+seed))
		for k, v := range append(slices.Clone(r.C), r.Theta...) {
			sum[k] += (v - truth[k]) * (v - truth[k]) / r.Covariance[k*8+k]
		}
	}
	for k, s := range sum { // a mean of χ² has s.d. √(2/400) = 0.071; four of those and the curvature of the model
		assert.InDelta(t, 1, s/trials, 0.3, "parameter %d", k)
	}
}
