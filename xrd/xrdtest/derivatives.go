package xrdtest

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"phasetally/xrd/leastsq"
)

// CheckDerivatives compares Derivatives of a separable model with differences of its Columns at theta and c. It is meant
// for the tests of models: a wrong derivative makes a fit slow or stuck, and its uncertainties wrong, in silence. The
// error names the parameter and the point that disagree most. A derivative passes if, for one of several steps, the
// fourth-order central difference agrees with it to 1e-6 of the largest derivative by that parameter, beyond what the
// rounding of the model explains.
func CheckDerivatives(model leastsq.Separable, theta, c []float64) error {
	m, l, n := model.Size()
	if len(theta) != n || len(c) != l {
		return fmt.Errorf("%d and %d values for %d nonlinear and %d linear parameters", len(theta), len(c), n, l)
	}
	phi, jac := rows(l, m), rows(n, m)
	values := func(p, y []float64) {
		model.Columns(p, phi)
		clear(y)
		for j, row := range phi {
			floats.AddScaled(y, c[j], row)
		}
	}
	model.Columns(theta, phi)
	model.Derivatives(theta, c, jac)
	return compareDerivatives(values, theta, jac, m)
}

func compareDerivatives(values func(p, y []float64), p []float64, jac [][]float64, points int) error {
	for k := range p {
		var worst error
		for h := 1e-2; h > 1e-8; h /= 4 {
			worst = compareDerivative(values, p, k, h*max(math.Abs(p[k]), 1e-3), jac[k], points)
			if worst == nil {
				break
			}
		}
		if worst != nil {
			return worst
		}
	}
	return nil
}

// compareDerivative compares the derivative by p_k with (8(f(h) − f(−h)) − (f(2h) − f(−2h)))/12h.
func compareDerivative(values func(p, y []float64), p []float64, k int, h float64, row []float64, points int) error {
	moved, y, difference := slices.Clone(p), make([]float64, points), make([]float64, points)
	size, slope := 0.0, 0.0
	for _, term := range [][2]float64{{1, 8}, {-1, -8}, {2, -1}, {-2, 1}} {
		moved[k] = p[k] + term[0]*h
		values(moved, y)
		floats.AddScaled(difference, term[1]/(12*h), y)
		for _, v := range y {
			size = max(size, math.Abs(v))
		}
	}
	for _, v := range row {
		slope = max(slope, math.Abs(v))
	}
	rounding := 4 * 0x1p-52 * size / h
	if slope > 0 {
		rounding = min(rounding, 1e-3*slope) // or a tiny step would pass anything
	}
	tolerance := 1e-6*slope + rounding
	for i, d := range difference {
		if !(math.Abs(d-row[i]) <= tolerance) {
			return fmt.Errorf("derivative by parameter %d (%g) at point %d: model says %g, differences say %g",
				k, p[k], i, row[i], d)
		}
	}
	return nil
}

func rows(n, length int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		out[i] = make([]float64, length)
	}
	return out
}
