package leastsq_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/leastsq"
)

// gaussians is the model of Gauss1 to Gauss3, b1 exp(−b2 x) + b3 exp(−((x−b4)/b5)²) + b6 exp(−((x−b7)/b8)²), with
// c = (b1, b3, b6) and θ = (b2, b4, b5, b7, b8): a decaying background with two peaks on it.
type gaussians struct{ x []float64 }

var _ leastsq.Separable = gaussians{}

func (g gaussians) Size() (points, linear, nonlinear int) { return len(g.x), 3, 5 }

func (g gaussians) Columns(theta []float64, phi [][]float64) {
	for i, x := range g.x {
		u, v := (x-theta[1])/theta[2], (x-theta[3])/theta[4]
		phi[0][i] = math.Exp(-theta[0] * x)
		phi[1][i] = math.Exp(-u * u)
		phi[2][i] = math.Exp(-v * v)
	}
}

func (g gaussians) Derivatives(theta, c []float64, jac [][]float64) {
	for i, x := range g.x {
		u, v := (x-theta[1])/theta[2], (x-theta[3])/theta[4]
		first, second := 2*c[1]*math.Exp(-u*u)*u/theta[2], 2*c[2]*math.Exp(-v*v)*v/theta[4]
		jac[0][i] = -c[0] * x * math.Exp(-theta[0]*x)
		jac[1][i], jac[2][i] = first, first*u
		jac[3][i], jac[4][i] = second, second*v
	}
}

func column(x [][]float64, k int) []float64 {
	c := make([]float64, len(x))
	for i := range x {
		c[i] = x[i][k]
	}
	return c
}

// TestSeparableSTRD sends the three NIST sets made of peaks on a background through the code that fits patterns. The
// starting values of the linear parameters are not needed.
func TestSeparableSTRD(t *testing.T) {
	for _, name := range []string{"Gauss1", "Gauss2", "Gauss3"} {
		set := readSTRD(t, name)
		checkGaussians(t, set)
	}
}

func checkGaussians(t *testing.T, set strdSet) {
	t.Helper()
	order := []int{0, 2, 5, 1, 3, 4, 6, 7} // (c, θ) in the numbering of NIST
	for s, start := range set.starts {
		var theta, parameters, deviations []float64
		for _, k := range order {
			parameters = append(parameters, set.parameters[k])
			deviations = append(deviations, set.deviations[k])
		}
		for _, k := range order[3:] {
			theta = append(theta, start[k])
		}
		r, err := leastsq.FitSeparable(context.Background(),
			leastsq.SeparableProblem{Model: gaussians{column(set.x, 0)}, Y: set.y, Theta: theta}, leastsq.Settings{})
		require.NoError(t, err)
		assert.Equal(t, leastsq.Converged, r.Status, set.name)
		assert.Empty(t, r.Undetermined)
		sd := math.Sqrt(r.SumSquares / float64(len(set.y)-8))
		got := make([]float64, 8)
		for k := range got {
			got[k] = sd * math.Sqrt(r.Covariance[k*8+k])
		}
		digits := leastLRE(append(append([]float64{}, r.C...), r.Theta...), parameters)
		deviationDigits := leastLRE(got, deviations)
		t.Logf("%-8s start %d: %2d iterations, digits %4.1f parameters, %4.1f standard deviations, %4.1f sum of squares",
			set.name, s+1, r.Iterations, digits, deviationDigits, lre(r.SumSquares, set.sumSquares))
		assert.GreaterOrEqual(t, digits, 6.0, set.name)
		assert.GreaterOrEqual(t, deviationDigits, 6.0, set.name)
	}
}
