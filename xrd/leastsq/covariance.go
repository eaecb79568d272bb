package leastsq

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// result collects what the fit found.
func (f *projection) result(status Status, iterations int, onward bool) SeparableResult {
	r := SeparableResult{
		Status: status, Iterations: iterations,
		Theta: slices.Clone(f.best.theta), C: slices.Clone(f.best.c), Fitted: slices.Clone(f.best.fitted),
		SumSquares: f.best.sumSquares, Penalty: f.best.priors,
	}
	if status == Cancelled || !f.usable {
		return r
	}
	if onward {
		r.Covariance = []float64{}
		return r
	}
	n, l := f.linear+f.nonlinear, f.linear
	chosen := make([]bool, n)
	copy(chosen, f.free)
	for k, x := range f.best.theta {
		chosen[l+k] = f.lower[k] < x && x < f.upper[k]
	}
	var free *cholesky
	r.Covariance, r.Undetermined, free = invert(f.normal, n, chosen)
	r.ZeroVariance = make([]float64, l)
	z := make([]float64, n)
	for j := range l {
		if chosen[j] {
			r.ZeroVariance[j] = r.Covariance[j*n+j]
			continue
		}
		r.ZeroVariance[j] = free.varianceIfFree(f.normal, n, j, z)
		if math.IsInf(r.ZeroVariance[j], 1) {
			r.Undetermined = append(r.Undetermined, j)
		}
	}
	slices.Sort(r.Undetermined)
	return r
}

// varianceIfFree returns the variance of row i of a if it were added to the rows used, +Inf if it depends on them.
func (f *cholesky) varianceIfFree(a []float64, stride, i int, z []float64) float64 {
	diagonal := a[i*stride+i]
	row := make([]float64, stride)
	for j := range row {
		row[j] = at(a, stride, i, j)
	}
	f.forward(row, z)
	left := diagonal - dot(z[:len(f.used)], z)
	if !(left > dependent*diagonal) {
		return math.Inf(1)
	}
	return 1 / left
}

// invert returns the inverse of a over the chosen rows, with zeros elsewhere, the rows that are undetermined, and the
// factor of those that are independent. Where a is singular the inverse is that of the part that is determined.
func invert(a []float64, n int, chosen []bool) (inverse []float64, undetermined []int, factor *cholesky) {
	factor = newCholesky(n)
	inverse = make([]float64, n*n)
	if !factor.decompose(a, n, chosen) {
		return inverse, pseudoInvert(a, n, chosen, inverse), factor
	}
	unit, z, x := make([]float64, n), make([]float64, n), make([]float64, n)
	for _, i := range factor.used {
		clear(unit)
		unit[i] = 1
		clear(x)
		factor.forward(unit, z)
		factor.backward(z, x)
		copy(inverse[i*n:], x)
	}
	symmetrise(inverse, n)
	return inverse, nil, factor
}

func symmetrise(a []float64, n int) {
	for i := range n {
		for j := range i {
			mean := (a[i*n+j] + a[j*n+i]) / 2
			a[i*n+j], a[j*n+i] = mean, mean
		}
	}
}

// pseudoInvert fills inverse from the eigenvectors of the scaled matrix whose eigenvalues are not lost in rounding and
// returns the rows that take part in the others.
func pseudoInvert(a []float64, n int, chosen []bool, inverse []float64) []int {
	var rows, lost []int
	for i, in := range chosen {
		if in && a[i*n+i] > 0 {
			rows = append(rows, i)
		} else if in {
			lost = append(lost, i)
		}
	}
	if len(rows) == 0 {
		return lost
	}
	scaled := mat.NewSymDense(len(rows), nil)
	for p, i := range rows {
		for q, j := range rows[:p+1] {
			scaled.SetSym(p, q, at(a, n, i, j)/math.Sqrt(a[i*n+i]*a[j*n+j]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(scaled, true) {
		return append(lost, rows...)
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	share := make([]float64, len(rows)) // of each row in the null space
	for e, value := range eigen.Values(nil) {
		for p, i := range rows {
			v := vectors.At(p, e)
			if !(value > dependent) {
				share[p] += v * v
				continue
			}
			for q, j := range rows {
				inverse[i*n+j] += v * vectors.At(q, e) / value / math.Sqrt(a[i*n+i]*a[j*n+j])
			}
		}
	}
	for p, i := range rows {
		if share[p] > 1e-6 {
			lost = append(lost, i)
		}
	}
	return lost
}
