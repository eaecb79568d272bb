package leastsq_test

import (
	"context"
	"fmt"
	"math"

	"phasetally/xrd/leastsq"
)

// peak is a flat background and a Gaussian peak; only position and width need starting values.
type peak struct{ x []float64 }

func (p peak) Size() (points, linear, nonlinear int) { return len(p.x), 2, 2 }

func (p peak) Columns(theta []float64, phi [][]float64) {
	for i, x := range p.x {
		u := (x - theta[0]) / theta[1]
		phi[0][i], phi[1][i] = 1, math.Exp(-u*u/2)
	}
}

func (p peak) Derivatives(theta, c []float64, jac [][]float64) {
	for i, x := range p.x {
		u := (x - theta[0]) / theta[1]
		jac[0][i] = c[1] * math.Exp(-u*u/2) * u / theta[1]
		jac[1][i] = jac[0][i] * u
	}
}

func ExampleSeparableSolver() {
	model := peak{[]float64{0, 1, 2, 3, 4, 5, 6, 7, 8}}
	r, err := new(leastsq.SeparableSolver).Fit(context.Background(), leastsq.SeparableProblem{
		Model:       model,
		Y:           []float64{20, 22, 33, 71, 118, 119, 70, 34, 21},
		Sigma:       []float64{4.5, 4.7, 5.7, 8.4, 10.9, 10.9, 8.4, 5.8, 4.6},
		Theta:       []float64{4, 1},
		Lower:       []float64{0, 0.1},
		Upper:       []float64{8, 5},
		NonNegative: []bool{true, true},
	}, leastsq.Settings{})
	if err != nil || r.Status != leastsq.Converged {
		fmt.Println(err, r.Status)
		return
	}
	fmt.Printf("background %.0f ± %.0f\n", r.C[0], math.Sqrt(r.Covariance[0*4+0]))
	fmt.Printf("height %.0f ± %.0f\n", r.C[1], math.Sqrt(r.Covariance[1*4+1]))
	fmt.Printf("position %.2f ± %.2f\n", r.Theta[0], math.Sqrt(r.Covariance[2*4+2]))
	fmt.Printf("undetermined: %v\n", r.Undetermined)
	// Output:
	// background 20 ± 3
	// height 107 ± 9
	// position 4.50 ± 0.09
	// undetermined: []
}
