package plots

import (
	"math"

	"gonum.org/v1/plot"
)

// SqrtScale is a plot.Normalizer that shows the square root of values, which keeps its sign: counting noise is as high on a
// strong line as on a weak one.
type SqrtScale struct{}

// Normalize returns the place of x between min (0) and max (1).
func (SqrtScale) Normalize(min, max, x float64) float64 {
	return plot.LinearScale{}.Normalize(root(min), root(max), root(x))
}

func root(v float64) float64 {
	if v < 0 {
		return -math.Sqrt(-v)
	}
	return math.Sqrt(v)
}

// Ticks is a plot.Ticker of round values: at equal steps of 1, 2 or 5 times a power of ten, or, on a √ scale, those of
// 0, 1, 2 and 5 times powers of ten that have room.
type Ticks struct {
	Scale   plot.Normalizer // of the axis; nil is linear
	Most    float64         // how many have room on the axis
	Decimal string          // what stands for the decimal point; "" is a point
}

// Ticks returns the ticks between two values, none of them minor.
func (t Ticks) Ticks(min, max float64) []plot.Tick {
	var out []plot.Tick
	if _, sqrt := t.Scale.(SqrtScale); sqrt {
		for _, v := range apart(t.Scale, min, max, roundValues(max), 1/t.Most) {
			out = append(out, t.tick(v))
		}
		return out
	}
	span := max - min
	if !(span > 0) || !(t.Most > 0) || math.IsInf(span, 0) {
		return nil
	}
	step := niceStep(span / t.Most)
	for k := math.Ceil(min/step - 1e-9); k*step <= max+1e-9*step && len(out) < 100; k++ {
		out = append(out, t.tick(round9(k*step)))
	}
	return out
}

func (t Ticks) tick(v float64) plot.Tick {
	return plot.Tick{Value: v + 0, Label: decimal(plain(v), t.Decimal)} // + 0 makes −0 plain
}

// apart keeps those values, in order of preference, that stay a share of the axis from each other.
func apart(scale plot.Normalizer, min, max float64, values []float64, share float64) []float64 {
	var kept []float64
	for _, v := range values {
		free := v >= min-1e-12 && v <= max
		for _, k := range kept {
			free = free && math.Abs(scale.Normalize(min, max, k)-scale.Normalize(min, max, v)) >= share
		}
		if free {
			kept = append(kept, v)
		}
	}
	return kept
}

// An axis is one of the library's, with the points of the page between which it lies.
type axis struct {
	*plot.Axis
	from, to float64
}

func newAxis(lo, hi, from, to float64, sqrt bool) axis {
	a := axis{&plot.Axis{Min: lo, Max: hi, Scale: plot.LinearScale{}}, from, to}
	if sqrt {
		a.Scale = SqrtScale{}
	}
	return a
}

func (a axis) at(v float64) float64 {
	if !(a.Max > a.Min) {
		return a.from
	}
	return a.from + a.Scale.Normalize(a.Min, a.Max, v)*(a.to-a.from)
}

// clip is at, kept on the axis.
func (a axis) clip(v float64) float64 {
	y := a.at(v)
	return math.Max(math.Min(a.from, a.to), math.Min(math.Max(a.from, a.to), y))
}

func (a axis) holds(v float64) bool { return v >= a.Min && v <= a.Max }

// ticks are those that lie at least gap points apart.
func (a axis) ticks(gap float64, w *Words) []plot.Tick {
	return Ticks{Scale: a.Scale, Most: math.Abs(a.to-a.from) / gap, Decimal: w.Decimal}.Ticks(a.Min, a.Max)
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

// spacings are round lattice spacings, Å, the rounder ones first.
var spacings = []float64{10, 5, 3, 2, 1.5, 1, 20, 4, 2.5, 0.8, 0.7, 0.6, 0.5, 7, 1.2, 0.9, 0.4, 0.3, 50, 6, 3.5, 1.8, 1.1, 8, 15, 30, 2.2, 1.6, 1.3, 0.85, 0.95}
