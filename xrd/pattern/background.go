package pattern

import (
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// splineColumns returns the cubic B-splines that stay on a grid of equal intervals over the angles x: intervals + 3
// columns, each zero outside four intervals. Source: de Boor, A Practical Guide to Splines (1978) (from memory).
func splineColumns(x []float64, intervals int) []leastsq.Strip {
	lo, hi := x[0], x[len(x)-1]
	width := (hi - lo) / float64(intervals)
	interval := func(v float64) int { return min(int((v-lo)/width), intervals-1) }
	begins := make([]int, intervals+1) // first point of each interval
	k := 0
	for i, v := range x {
		for ; k <= interval(v); k++ {
			begins[k] = i
		}
	}
	begins[intervals] = len(x)
	cols := make([]leastsq.Strip, intervals+3)
	for j := range cols {
		first, end := begins[max(0, j-3)], begins[min(intervals, j+1)]
		cols[j] = leastsq.Strip{First: first, Values: make([]float64, end-first)}
	}
	for i, v := range x {
		k := interval(v)
		u := (v-lo)/width - float64(k)
		w := 1 - u
		for j, b := range [4]float64{w * w * w / 6, (3*u*u*u - 6*u*u + 4) / 6, (3*w*w*w - 6*w*w + 4) / 6, u * u * u / 6} {
			cols[k+j].Values[i-cols[k+j].First] = b
		}
	}
	return cols
}

// knotChoices returns the numbers of background intervals to choose from. A blank brings the shape of the background;
// beside it only stiff ones are tried, since finer ones would follow a halo better than a blank with its noise can.
func (s Setup) knotChoices() []int {
	// What is broad is so in 1/d; with a short wavelength it takes fewer degrees.
	all := knotChoices((s.TwoTheta[len(s.TwoTheta)-1] - s.TwoTheta[0]) / xrd.Broadness(s.Radiation.KAlpha1))
	if s.Blank != nil {
		return all[:min(2, len(all))]
	}
	return all
}

// knotChoices returns the numbers of background intervals worth trying over a range in degrees with Cu Kα: from two in all to one
// every 3°, which still cannot follow a line (common practice: the background must not bend within ten widths).
func knotChoices(span float64) []int {
	var out []int
	for _, every := range []float64{40, 25, 16, 10, 7, 5, 3.5} {
		n := max(2, int(span/every+0.5))
		if len(out) == 0 || n > out[len(out)-1] {
			out = append(out, n)
		}
	}
	return out
}
