package pattern

// splineColumns returns the cubic B-splines that stay on a grid of equal intervals over the angles x: intervals + 3
// columns, each zero outside four intervals. Source: de Boor, A Practical Guide to Splines (1978) (from memory).
func splineColumns(x []float64, intervals int) [][]float64 {
	lo, hi := x[0], x[len(x)-1]
	width := (hi - lo) / float64(intervals)
	cols := make([][]float64, intervals+3)
	flat := make([]float64, len(cols)*len(x))
	for j := range cols {
		cols[j] = flat[j*len(x) : (j+1)*len(x)]
	}
	for i, v := range x {
		t := (v - lo) / width
		k := min(int(t), intervals-1)
		u := t - float64(k)
		w := 1 - u
		cols[k][i] = w * w * w / 6
		cols[k+1][i] = (3*u*u*u - 6*u*u + 4) / 6
		cols[k+2][i] = (3*w*w*w - 6*w*w + 4) / 6
		cols[k+3][i] = u * u * u / 6
	}
	return cols
}

// knotChoices returns the numbers of background intervals to choose from. A blank brings the shape of the background;
// beside it only stiff ones are tried, since finer ones would follow a halo better than a blank with its noise can.
func (s Setup) knotChoices() []int {
	all := knotChoices(s.TwoTheta[len(s.TwoTheta)-1] - s.TwoTheta[0])
	if s.Blank != nil {
		return all[:min(2, len(all))]
	}
	return all
}

// knotChoices returns the numbers of background intervals worth trying over a range in degrees: from two in all to one
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
