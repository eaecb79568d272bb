package leastsq

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// dense is a model as large as a pattern fit: every column of noise moves everywhere with every parameter. The columns
// cost nothing, so that what is measured is the solver.
type dense struct {
	points, linear, nonlinear int
	phi                       [][]float64
	bend                      [][]float64
}

func newDense(points, linear, nonlinear int) *dense {
	random := rand.New(rand.NewPCG(1, 2))
	d := &dense{points, linear, nonlinear, matrix(linear, points), matrix(nonlinear, points)}
	for _, rows := range [][][]float64{d.phi, d.bend} {
		for _, row := range rows {
			for i := range row {
				row[i] = random.NormFloat64()
			}
		}
	}
	return d
}

func (d *dense) Size() (points, linear, nonlinear int) { return d.points, d.linear, d.nonlinear }

// Columns is φ_0 = noise + Σ tanh(θ_k) bend_k, φ_j = noise.
func (d *dense) Columns(theta []float64, phi [][]float64) {
	for j := range phi {
		copy(phi[j], d.phi[j])
	}
	for k, t := range theta {
		axpy(phi[0], math.Tanh(t), d.bend[k])
	}
}

func (d *dense) Derivatives(theta, c []float64, jac [][]float64) {
	for k, t := range theta {
		v := c[0] / (math.Cosh(t) * math.Cosh(t))
		for i, b := range d.bend[k] {
			jac[k][i] = v * b
		}
	}
}

func (d *dense) problem() SeparableProblem {
	random := rand.New(rand.NewPCG(3, 4))
	y, sigma, theta := make([]float64, d.points), make([]float64, d.points), make([]float64, d.nonlinear)
	for k := range theta {
		theta[k] = random.Float64() - 0.5
	}
	phi := matrix(d.linear, d.points)
	d.Columns(theta, phi)
	for i := range y {
		sigma[i] = 0.05 + 0.1*random.Float64()
		for j := range phi {
			y[i] += float64(j+1) * phi[j][i]
		}
		y[i] += sigma[i] * random.NormFloat64()
	}
	return SeparableProblem{Model: d, Y: y, Sigma: sigma, Theta: make([]float64, d.nonlinear)}
}

// TestInnerLoopDoesNotAllocate runs what is done in each iteration.
func TestInnerLoopDoesNotAllocate(t *testing.T) {
	problem := newDense(500, 5, 7).problem()
	problem.NonNegative = []bool{true, false, true, false, true}
	f := (*projection)(nil).renewed(problem)
	require.NoError(t, f.start())
	d := descent{projection: f, settings: Settings{}.orDefaults()}
	d.radius = 1e-3 // so that the damping is searched for as well
	d.iterations = 1
	require.True(t, f.linearise())
	assert.Zero(t, testing.AllocsPerRun(5, func() {
		f.linearise()
		d.improve()
	}))
}

// BenchmarkSeparable measures the solver on a pattern of 5–150° in steps of 0.02° with 15 linear and 25 nonlinear
// parameters, all columns dense.
func BenchmarkSeparable(b *testing.B) {
	problem := newDense(7251, 15, 25).problem()
	iterations := 0
	b.ReportAllocs()
	for b.Loop() {
		r, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{})
		if err != nil || r.Status != Converged {
			b.Fatal(r.Status, err)
		}
		iterations += r.Iterations
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(iterations), "ms/iteration")
	b.ReportMetric(float64(iterations)/float64(b.N), "iterations")
}

// BenchmarkNormalEquations measures the part that takes most of it.
func BenchmarkNormalEquations(b *testing.B) {
	const n, points = 40, 7251
	rows := matrix(n, points)
	for _, row := range rows {
		for i := range row {
			row[i] = float64(i % 17)
		}
	}
	g, normal, rhs := newGram(points, n, n, 0, &gram{}), make([]float64, n*n), make([]float64, n)
	g.fix(nil, rows[1], nil, 0)
	add := func(core, part int) { g.add(core, part, rows, 15, rows[0]) }
	b.ReportAllocs()
	for b.Loop() {
		share(len(g.workspaces), len(g.parts), add)
		g.sum(15, n, normal, n, rhs)
	}
	products := float64(points) * float64(n*(n+1)/2-15*16/2)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/products, "ns/product")
}

// TestOnward: a fit that is gone on with finds the same to the last bit, and forms no covariance.
func TestOnward(t *testing.T) {
	for _, spare := range []bool{false, true} {
		problem := newDense(500, 5, 7).problem()
		whole, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{RelTolerance: 1e-4, SpareLast: spare})
		require.NoError(t, err)
		require.NotEmpty(t, whole.Covariance)
		onward, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{RelTolerance: 1e-4, SpareLast: spare, Onward: true})
		require.NoError(t, err)
		require.NotNil(t, onward.Covariance, "it has not failed")
		require.Empty(t, onward.Covariance)
		whole.Covariance, whole.ZeroVariance, whole.Undetermined = []float64{}, nil, nil
		require.Equal(t, whole, onward)
	}
}

// TestSpareLast: a fit that is to be gone on with ends a step earlier, where that step promises no more than the tolerance.
func TestSpareLast(t *testing.T) {
	problem := newDense(500, 5, 7).problem()
	whole, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{RelTolerance: 1e-4})
	require.NoError(t, err)
	spared, err := new(SeparableSolver).Fit(context.Background(), problem, Settings{RelTolerance: 1e-4, SpareLast: true})
	require.NoError(t, err)
	assert.Equal(t, Converged, spared.Status)
	assert.Equal(t, whole.Iterations, spared.Iterations, "the last iteration takes no step")
	assert.Greater(t, spared.SumSquares, whole.SumSquares)
	assert.Less(t, spared.SumSquares, whole.SumSquares*(1+1e-4))
}
