package leastsq

import (
	"context"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// piecewise is a dense model that does its points range by range.
type piecewise struct {
	*dense
	theta []float64
}

func (p *piecewise) At(theta []float64) { p.theta = append(p.theta[:0], theta...) }

func (p *piecewise) ColumnsIn(lo, hi int, phi [][]float64) {
	whole := matrix(p.linear, p.points)
	p.Columns(p.theta, whole)
	for j := range phi {
		copy(phi[j][lo:hi], whole[j][lo:hi])
	}
}

func (p *piecewise) DerivativesIn(lo, hi int, c []float64, jac [][]float64) {
	whole := matrix(p.nonlinear, p.points)
	p.Derivatives(p.theta, c, whole)
	for k := range jac {
		copy(jac[k][lo:hi], whole[k][lo:hi])
	}
}

// TestCoresDoNotMatter: the result is the same to the last bit on one core and on several, whole and by ranges.
func TestCoresDoNotMatter(t *testing.T) {
	d := newDense(3*partPoints+77, 4, 3)
	problem := d.problem()
	problem.NonNegative = make([]bool, 4)
	problem.NonNegative[1] = true
	for _, w := range []int{300, partPoints, 1500} { // columns that are not zero for so many points
		problem.Fixed = append(problem.Fixed, Strip{w, d.bend[0][w : 2*w]})
		problem.NonNegative = append(problem.NonNegative, w == 300)
	}
	var first SeparableResult
	for _, cores := range []int{1, 2, 3, 7} {
		for _, model := range []Separable{d, &piecewise{dense: d}} {
			before := runtime.GOMAXPROCS(cores)
			problem.Model = model
			r, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{})
			runtime.GOMAXPROCS(before)
			require.NoError(t, err)
			require.Equal(t, Converged, r.Status)
			if first.Status == NotRun {
				first = r
			}
			assert.Equal(t, first, r, "%d cores, %T", cores, model)
		}
	}
}

// TestFixedColumns: columns given as fixed and columns of the model lead to the same fit.
func TestFixedColumns(t *testing.T) {
	d := newDense(700, 5, 3)
	whole := d.problem()
	whole.NonNegative = []bool{true, true, false, true, false}
	want, err := new(SeparableSolver).Fit(context.Background(), whole, Settings{})
	require.NoError(t, err)
	split := whole
	for j := 2; j < 5; j++ {
		split.Fixed = append(split.Fixed, Strip{Values: d.phi[j]})
	}
	split.Model = &dense{d.points, 2, d.nonlinear, d.phi[:2], d.bend}
	got, err := new(SeparableSolver).Fit(context.Background(), split, Settings{})
	require.NoError(t, err)
	assert.InDeltaSlice(t, want.C, got.C, 1e-9)
	assert.InDeltaSlice(t, want.Theta, got.Theta, 1e-9)
	assert.InDeltaSlice(t, want.Covariance, got.Covariance, 1e-12)
	split.Fixed[1] = Strip{600, make([]float64, 101)}
	_, err = new(SeparableSolver).Fit(context.Background(), split, Settings{})
	assert.ErrorIs(t, err, ErrInput, "beyond the last point")
	split.Fixed[1] = Strip{-1, make([]float64, 5)}
	_, err = new(SeparableSolver).Fit(context.Background(), split, Settings{})
	assert.ErrorIs(t, err, ErrInput, "before the first point")
}

// TestSolverForgets: a fit in the memory of others is the fit that it would be alone.
func TestSolverForgets(t *testing.T) {
	var s SeparableSolver
	for _, size := range [][3]int{{400, 5, 3}, {400, 5, 3}, {400, 2, 7}, {300, 6, 2}, {400, 5, 3}} {
		problem := newDense(size[0], size[1], size[2]).problem()
		problem.NonNegative = make([]bool, size[1])
		problem.NonNegative[0] = true
		want, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{})
		require.NoError(t, err)
		got, err := s.Fit(context.Background(), problem, Settings{})
		require.NoError(t, err)
		assert.Equal(t, want, got, "%v", size)
	}
}
