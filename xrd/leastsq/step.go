package leastsq

import "math"

// A boundedStep minimises a quadratic within bounds.
type boundedStep struct {
	*reducedNormal
	x, lower, upper []float64
	scale           []float64 // D, the lengths of the columns of J

	delta, found []float64
	free         []bool
}

func newBoundedStep(q *reducedNormal, lower, upper, scale []float64) boundedStep {
	n := len(lower)
	return boundedStep{
		reducedNormal: q, lower: lower, upper: upper, scale: scale,
		delta: make([]float64, n), found: make([]float64, n), free: make([]bool, n),
	}
}

// solve goes towards the minimum; the parameter that first reaches a bound on the way, at once if it is on it already, is
// held there and the rest solved again, so that the objective never grows. It returns the reduction promised and ‖Dδ‖.
func (s *boundedStep) solve(damping float64, x []float64) (predicted, size float64) {
	s.x = x
	clear(s.delta)
	for i := range x {
		s.free[i] = s.scale[i] > 0 && s.lower[i] < s.upper[i]
	}
	for range len(x) + 1 {
		s.minimise(damping, s.free, s.delta, s.found)
		if !s.advance() {
			break
		}
	}
	return s.promise(s.delta), scaledNorm(s.delta, s.scale)
}

// advance moves delta towards found up to the first bound and says whether there was one.
func (s *boundedStep) advance() bool {
	part, stopped := 1.0, -1
	for i, to := range s.found {
		if !s.free[i] {
			continue
		}
		free := min(max(to, s.lower[i]-s.x[i]), s.upper[i]-s.x[i]) - s.delta[i]
		if way := to - s.delta[i]; free != way && free/way < part {
			part, stopped = max(free/way, 0), i
		}
	}
	for i, to := range s.found {
		if s.free[i] {
			s.delta[i] += part * (to - s.delta[i])
		}
	}
	if stopped < 0 {
		return false
	}
	s.free[stopped] = false
	s.delta[stopped] = s.lower[stopped] - s.x[stopped]
	if s.found[stopped] > s.delta[stopped] {
		s.delta[stopped] = s.upper[stopped] - s.x[stopped]
	}
	return true
}

// move puts x + delta into to, exactly on a bound where it is reached.
func (s *boundedStep) move(to []float64) {
	for i, d := range s.delta {
		to[i] = min(max(s.x[i]+d, s.lower[i]), s.upper[i])
	}
}

func scaledNorm(x, scale []float64) float64 {
	sum := 0.0
	for i, v := range x {
		sum += v * scale[i] * v * scale[i]
	}
	return math.Sqrt(sum)
}

// reducedNormal is the quadratic of normal equations, (R + λS²) δ = g with half the negative gradient g.
type reducedNormal struct {
	r, g, scale         []float64
	matrix, right, work []float64
	factors             *cholesky
}

func newReducedNormal(n int) *reducedNormal {
	return &reducedNormal{
		r: make([]float64, n*n), g: make([]float64, n), scale: make([]float64, n),
		matrix: make([]float64, n*n), right: make([]float64, n), work: make([]float64, n), factors: newCholesky(n),
	}
}

func (q *reducedNormal) minimise(damping float64, free []bool, delta, found []float64) {
	n := len(q.g)
	copy(q.matrix, q.r)
	copy(q.right, q.g)
	for i, d := range delta {
		q.matrix[i*n+i] += damping * q.scale[i] * q.scale[i]
		if free[i] || d == 0 {
			continue
		}
		for j := range q.right {
			q.right[j] -= at(q.r, n, i, j) * d
		}
	}
	clear(found)
	q.factors.decompose(q.matrix, n, free)
	q.factors.forward(q.right, q.work)
	q.factors.backward(q.work, found)
}

func (q *reducedNormal) promise(delta []float64) float64 {
	n, sum := len(q.g), 0.0
	for i, d := range delta {
		row := 2 * q.g[i]
		for j, e := range delta {
			row -= at(q.r, n, i, j) * e
		}
		sum += d * row
	}
	return sum
}
