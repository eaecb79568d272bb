package plots

import (
	"math"
)

// An axis maps values to points on the page, linearly or by the square root (which keeps its sign).
type axis struct {
	lo, hi   float64 // values
	from, to float64 // points on the page
	sqrt     bool
}

func (a axis) bend(v float64) float64 {
	switch {
	case !a.sqrt:
		return v
	case v < 0:
		return -math.Sqrt(-v)
	}
	return math.Sqrt(v)
}

func (a axis) at(v float64) float64 {
	lo, hi := a.bend(a.lo), a.bend(a.hi)
	if !(hi > lo) {
		return a.from
	}
	return a.from + (a.bend(v)-lo)/(hi-lo)*(a.to-a.from)
}

// clip is at, kept on the axis.
func (a axis) clip(v float64) float64 {
	y := a.at(v)
	return math.Max(math.Min(a.from, a.to), math.Min(math.Max(a.from, a.to), y))
}

// ticks returns round values that lie at least gap points apart.
func (a axis) ticks(gap float64) []float64 {
	if a.sqrt {
		return a.spread(roundValues(a.hi), gap)
	}
	span := a.hi - a.lo
	room := math.Abs(a.to-a.from) / gap
	if !(span > 0) || !(room > 0) || math.IsInf(span, 0) {
		return nil
	}
	step := niceStep(span / room)
	var out []float64
	for k := math.Ceil(a.lo/step - 1e-9); k*step <= a.hi+1e-9*step && len(out) < 100; k++ {
		out = append(out, math.Round(k*step*1e9)/1e9)
	}
	return out
}

// niceStep returns the least of 1, 2, 5 times a power of ten that is not below v.
func niceStep(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= v*(1-1e-9) {
			return m * p
		}
	}
	return 10 * p
}

// roundValues are 0 and 1, 2, 5 times powers of ten up to hi, the largest first, since a square-root axis has most room
// there.
func roundValues(hi float64) []float64 {
	var out []float64
	if !(hi > 0) || math.IsInf(hi, 0) {
		return []float64{0}
	}
	top := math.Floor(math.Log10(hi))
	for p := top; p > top-4; p-- {
		for _, m := range []float64{5, 2, 1} {
			if v := m * math.Pow(10, p); v <= hi {
				out = append(out, v)
			}
		}
	}
	return append([]float64{0}, out...)
}

// spread keeps those values, in order of preference, that stay gap points from each other.
func (a axis) spread(values []float64, gap float64) []float64 {
	var kept []float64
	for _, v := range values {
		free := v >= a.lo-1e-12 && v <= a.hi
		for _, k := range kept {
			free = free && math.Abs(a.at(k)-a.at(v)) >= gap
		}
		if free {
			kept = append(kept, v)
		}
	}
	return kept
}

// spacings are round lattice spacings, Å, the rounder ones first.
var spacings = []float64{10, 5, 3, 2, 1.5, 1, 20, 4, 2.5, 0.8, 0.7, 0.6, 0.5, 7, 1.2, 0.9, 0.4, 0.3, 50, 6, 3.5, 1.8, 1.1, 8, 15, 30, 2.2, 1.6, 1.3, 0.85, 0.95}
