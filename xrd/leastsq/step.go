package leastsq

import "math"

const epsilon = 0x1p-52

// rounding is how far a sum of squares can be off because the model is rounded: nothing below it can be told from noise.
func rounding(sumSquares, dataNorm float64) float64 {
	return epsilon * dataNorm * (2*math.Sqrt(sumSquares) + epsilon*dataNorm)
}

// A damping is the parameter of Levenberg and Marquardt, moved by the ratio of actual to predicted reduction.
// Source: Nielsen, IMM-REP-1999-05, Technical University of Denmark (from memory).
type damping struct{ value, growth float64 }

func newDamping() damping { return damping{value: 1e-3, growth: 2} }

func (d *damping) lower(ratio float64) {
	q := 2*ratio - 1
	d.value = max(d.value*max(0.1, 1-q*q*q), 1e-14)
	d.growth = 2
}

func (d *damping) raise() {
	d.value = max(d.value, 1e-4) * d.growth
	d.growth *= 2
}

func (d *damping) exhausted() bool { return d.value > 1e20 }

// A boundedStep solves (R + λS²) δ = g for a step within bounds; S are the lengths of the columns.
type boundedStep struct {
	delta     []float64
	predicted float64 // 2gᵀδ − δᵀRδ

	matrix, right, solved, work []float64
	free                        []bool
	factors                     *cholesky
}

func newBoundedStep(n int) boundedStep {
	return boundedStep{
		delta: make([]float64, n), matrix: make([]float64, n*n), right: make([]float64, n), solved: make([]float64, n),
		work: make([]float64, n), free: make([]bool, n), factors: newCholesky(n),
	}
}

// solve holds the parameters that are on a bound with the slope pointing outward, solves for the others, and as long as
// some of those would cross a bound puts them on it and solves again.
func (s *boundedStep) solve(r, g, scale []float64, lambda float64, x, lower, upper []float64) {
	n := len(x)
	copy(s.matrix, r)
	for i := range x {
		s.delta[i] = 0
		s.free[i] = scale[i] > 0 && lower[i] < upper[i] && !atBound(x[i], g[i], lower[i], upper[i])
		s.matrix[i*n+i] = r[i*n+i] + lambda*scale[i]*scale[i]
	}
	for range n + 1 {
		s.solveFree(g)
		crossed := false
		for i, d := range s.solved {
			if !s.free[i] {
				continue
			}
			s.delta[i] = min(max(d, lower[i]-x[i]), upper[i]-x[i])
			if s.delta[i] != d {
				s.free[i], crossed = false, true
			}
		}
		if !crossed {
			break
		}
	}
	s.predict(r, g)
}

func atBound(x, slope, lower, upper float64) bool {
	return x <= lower && slope <= 0 || x >= upper && slope >= 0
}

// solveFree solves for the free parameters with the others at their delta.
func (s *boundedStep) solveFree(g []float64) {
	n := len(g)
	copy(s.right, g)
	for i, d := range s.delta {
		if s.free[i] || d == 0 {
			continue
		}
		for j := range s.right {
			s.right[j] -= at(s.matrix, n, i, j) * d
		}
	}
	clear(s.solved)
	s.factors.decompose(s.matrix, n, s.free)
	s.factors.forward(s.right, s.work)
	s.factors.backward(s.work, s.solved)
}

func (s *boundedStep) predict(r, g []float64) {
	n := len(g)
	s.predicted = 0
	for i, d := range s.delta {
		row := 2 * g[i]
		for j, e := range s.delta {
			row -= at(r, n, i, j) * e
		}
		s.predicted += d * row
	}
}
