package leastsq_test

import (
	"math"

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
