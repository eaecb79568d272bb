package leastsq_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"phasetally/xrd/leastsq"
)

// nothing is a model without parameters of its own: all columns are fixed.
type nothing int

func (n nothing) Size() (points, linear, nonlinear int)       { return int(n), 0, 0 }
func (nothing) Columns([]float64, [][]float64)                {}
func (nothing) Derivatives([]float64, []float64, [][]float64) {}

// nonNegative fits columns with coefficients that are not negative.
func nonNegative(columns [][]float64, y, sigma []float64) ([]float64, error) {
	p := leastsq.SeparableProblem{Model: nothing(len(y)), Y: y, Sigma: sigma}
	for _, c := range columns {
		p.Fixed = append(p.Fixed, leastsq.Strip{Values: c})
		p.NonNegative = append(p.NonNegative, true)
	}
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), p, leastsq.Settings{})
	return r.C, err
}

func randomColumns(random *rand.Rand, n, m int) (columns [][]float64, y, sigma []float64) {
	columns = make([][]float64, n)
	for j := range columns {
		column := make([]float64, m)
		columns[j] = column
		unit := math.Pow(10, 6*random.Float64()-3)
		for i := range column {
			column[i] = unit * (random.NormFloat64() + 0.5*float64(j%3))
		}
	}
	for range m {
		y = append(y, random.NormFloat64())
		sigma = append(sigma, 0.1+random.Float64())
	}
	return columns, y, sigma
}

// TestNonNegativeKKT checks that the solution is one, by the conditions of Karush, Kuhn and Tucker.
func TestNonNegativeKKT(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 12))
	zeros, positives := 0, 0
	for range 300 {
		n := 1 + random.IntN(12)
		columns, y, sigma := randomColumns(random, n, n+random.IntN(40))
		c, err := nonNegative(columns, y, sigma)
		require.NoError(t, err)
		for j, column := range columns {
			slope, size := 0.0, 0.0
			for i, v := range column {
				r := y[i]
				for k := range columns {
					r -= c[k] * columns[k][i]
				}
				slope += v * r / (sigma[i] * sigma[i])
				size += math.Abs(v*y[i]) / (sigma[i] * sigma[i])
			}
			require.GreaterOrEqual(t, c[j], 0.0)
			if c[j] > 0 {
				positives++
				require.InDelta(t, 0, slope/size, 1e-8)
			} else {
				zeros++
				require.LessOrEqual(t, slope/size, 1e-8)
			}
		}
	}
	assert.Greater(t, min(zeros, positives), 300, "both kinds must occur")
}

// TestNonNegativeInside compares with orthogonal factors where no bound is active.
func TestNonNegativeInside(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 14))
	for range 50 {
		columns, y, _ := randomColumns(random, 6, 40)
		a := mat.NewDense(40, 6, nil)
		for j, column := range columns {
			a.SetCol(j, column)
			axpy(y, 5/norm(column), column) // well inside
		}
		var want mat.VecDense
		require.NoError(t, want.SolveVec(a, mat.NewVecDense(40, slices.Clone(y))))
		c, err := nonNegative(columns, y, nil)
		require.NoError(t, err)
		if slices.Min(want.RawVector().Data) > 0 {
			assert.InEpsilonSlice(t, want.RawVector().Data, c, 1e-9)
		}
	}
}

func axpy(y []float64, a float64, x []float64) {
	for i := range y {
		y[i] += a * x[i]
	}
}

func norm(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v * v
	}
	return math.Sqrt(s / float64(len(x)))
}

func TestNonNegativeDependentColumns(t *testing.T) {
	c, err := nonNegative([][]float64{{1, 1, 1}, {2, 2, 2}, {0, 0, 0}, {0, 1, 0}}, []float64{3, 4, 3}, nil)
	require.NoError(t, err)
	assert.InDelta(t, 3, c[0]+2*c[1], 1e-12)
	assert.Zero(t, c[2])
	assert.InDelta(t, 1, c[3], 1e-12)
}
