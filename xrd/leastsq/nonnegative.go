package leastsq

import "math"

// nonNegative solves min xᵀAx − 2bᵀx subject to x_j ≥ 0 where asked.
type nonNegative struct {
	free    []bool // rows in the current solution; on entry the guess to start from
	tried   []bool // rows that could not be added since the last progress
	x       []float64
	next    []float64
	work    []float64
	factors *cholesky
}

func newNonNegative(n int) *nonNegative {
	return &nonNegative{
		free: make([]bool, n), tried: make([]bool, n), x: make([]float64, n), next: make([]float64, n),
		work: make([]float64, n), factors: newCholesky(n),
	}
}

// forget makes the next solution start from nothing.
func (s *nonNegative) forget() {
	clear(s.free)
	clear(s.x)
}

// solve leaves the solution in s.x and its free rows in s.free, starting from the free rows that are there.
// Rows that depend on others are left at 0.
func (s *nonNegative) solve(a []float64, stride int, b []float64, bounded []bool) {
	clear(s.tried)
	for j := range s.x {
		if !isBounded(bounded, j) {
			s.free[j] = true
		}
		if !s.free[j] || isBounded(bounded, j) && !(s.x[j] > 0) {
			s.x[j] = 0
		}
	}
	s.descend(a, stride, b, bounded)
	for range 3*len(b) + 10 { // Lawson and Hanson: rarely more than n
		j := s.steepest(a, stride, b)
		if j < 0 {
			return
		}
		s.free[j] = true
		s.descend(a, stride, b, bounded)
		if s.x[j] > 0 {
			clear(s.tried)
		} else {
			s.free[j], s.tried[j] = false, true
		}
	}
}

func isBounded(bounded []bool, j int) bool { return bounded != nil && bounded[j] }

// steepest returns the row at its bound whose growth lowers the sum most, in units of its column, or −1.
func (s *nonNegative) steepest(a []float64, stride int, b []float64) int {
	best, found := 0.0, -1
	for j, free := range s.free {
		diagonal := a[j*stride+j]
		if free || s.tried[j] || !(diagonal > 0) {
			continue
		}
		slope, size := b[j], math.Abs(b[j])
		for k, x := range s.x {
			term := at(a, stride, j, k) * x
			slope -= term
			size += math.Abs(term)
		}
		gain := slope / math.Sqrt(diagonal)
		if slope > 1e-14*size*float64(len(b)) && gain > best { // beyond rounding
			best, found = gain, j
		}
	}
	return found
}

// descend solves over the free rows and gives up, one at a time, those that would turn negative first.
func (s *nonNegative) descend(a []float64, stride int, b []float64, bounded []bool) {
	for range len(b) + 1 {
		clear(s.next)
		s.factors.decompose(a, stride, s.free)
		s.factors.forward(b, s.work)
		s.factors.backward(s.work, s.next)
		step, blocking := s.feasibleStep(bounded)
		if blocking < 0 {
			copy(s.x, s.next)
			return
		}
		for j := range s.x {
			s.x[j] += step * (s.next[j] - s.x[j])
		}
		s.free[blocking], s.x[blocking] = false, 0
	}
}

// feasibleStep returns the part of the way from x to next that keeps the bounded rows at or above 0 and the row that
// stops it there, or −1.
func (s *nonNegative) feasibleStep(bounded []bool) (step float64, blocking int) {
	step, blocking = 1, -1
	for j, v := range s.next {
		if !s.free[j] || !isBounded(bounded, j) || v > 0 {
			continue
		}
		part := 0.0 // a column that depends on others has v = x = 0
		if s.x[j] > v {
			part = s.x[j] / (s.x[j] - v)
		}
		if blocking < 0 || part < step {
			step, blocking = part, j
		}
	}
	return step, blocking
}
