package xrdtest_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/xrdtest"
)

// decay is c exp(−θ t) at t = 0, 1, 2, with its derivative by θ wrong by a factor at one point.
type decay struct{ wrong float64 }

func (decay) Size() (points, linear, nonlinear int) { return 3, 1, 1 }

func (decay) Columns(theta []float64, phi [][]float64) {
	for t := range phi[0] {
		phi[0][t] = math.Exp(-theta[0] * float64(t))
	}
}

func (d decay) Derivatives(theta, c []float64, jac [][]float64) {
	for t := range jac[0] {
		jac[0][t] = -c[0] * float64(t) * math.Exp(-theta[0]*float64(t))
	}
	jac[0][2] *= d.wrong
}

// A derivative that is wrong by 1 ppm of the largest one passes, one that is wrong by 3 ppm does not.
func TestCheckDerivatives(t *testing.T) {
	theta, c := []float64{0.7}, []float64{3}
	assert.NoError(t, xrdtest.CheckDerivatives(decay{1}, theta, c))
	assert.ErrorContains(t, xrdtest.CheckDerivatives(decay{1 + 3e-6}, theta, c), "parameter 0 (0.7) at point 2")
	assert.ErrorContains(t, xrdtest.CheckDerivatives(decay{-1}, theta, c), "parameter 0")
	assert.Error(t, xrdtest.CheckDerivatives(decay{1}, nil, c))
}
