package leastsq_test

import (
	"context"
	"errors"
	"fmt"
	"math"

	"phasetally/xrd/leastsq"
)

// decay is y = a exp(−k t).
type decay struct{ t []float64 }

func (d decay) Size() (points, parameters int) { return len(d.t), 2 }

func (d decay) Values(p, y []float64) {
	for i, t := range d.t {
		y[i] = p[0] * math.Exp(-p[1]*t)
	}
}

func ExampleFit() {
	r, err := leastsq.Fit(context.Background(), leastsq.Problem{
		Model: decay{[]float64{0, 1, 2, 3, 4}}, // derivatives by differences
		Y:     []float64{10.1, 6.0, 3.7, 2.2, 1.4},
		Start: []float64{1, 1},
	}, leastsq.Settings{})
	if err != nil || r.Status != leastsq.Converged {
		fmt.Println(err, r.Status)
		return
	}
	u := r.ScaledUncertainties() // the uncertainty of the data is not known
	fmt.Printf("a = %.2f ± %.2f\nk = %.3f ± %.3f\n", r.Parameters[0], u[0], r.Parameters[1], u[1])
	// Output:
	// a = 10.07 ± 0.06
	// k = 0.505 ± 0.006
}

func ExampleFit_refused() {
	_, err := leastsq.Fit(context.Background(), leastsq.Problem{
		Model: decay{[]float64{0, 1}}, Y: []float64{1}, Start: []float64{1, 1},
	}, leastsq.Settings{})
	fmt.Println(errors.Is(err, leastsq.ErrInput), err)
	// Output:
	// true least squares: unusable input: 1 data for 2 points
}

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

func ExampleFitSeparable() {
	model := peak{[]float64{0, 1, 2, 3, 4, 5, 6, 7, 8}}
	r, err := leastsq.FitSeparable(context.Background(), leastsq.SeparableProblem{
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

func ExampleNonNegative() {
	mixture := []float64{3, 5, 2, 1}
	pure := [][]float64{{1, 2, 1, 0}, {1, 1, 0, 1}, {0, 0, 1, 1}}
	shares, err := leastsq.NonNegative(pure, mixture, nil)
	fmt.Printf("%.2f %v\n", shares, err)
	// Output:
	// [2.00 1.00 0.00] <nil>
}

func ExampleCheckDerivatives() {
	model := peak{[]float64{0, 1, 2, 3, 4, 5, 6, 7, 8}}
	fmt.Println(leastsq.CheckDerivatives(model, []float64{4.2, 1.3}, []float64{20, 100}))
	// Output:
	// <nil>
}
