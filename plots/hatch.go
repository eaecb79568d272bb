package plots

import "math"

// band is the area between two curves over common x: the lower edge on the page (larger y) and the upper one.
type band struct{ x, bottom, top []float64 }

// outline returns the band's closed outline, one run for each stretch that is thicker than hair points.
func (b band) outline(hair float64) [][]point {
	var runs [][]point
	for _, s := range b.stretches(hair) {
		run := make([]point, 0, 2*(s[1]-s[0]))
		for i := s[0]; i < s[1]; i++ {
			run = append(run, point{b.x[i], b.top[i]})
		}
		for i := s[1] - 1; i >= s[0]; i-- {
			run = append(run, point{b.x[i], b.bottom[i]})
		}
		runs = append(runs, run)
	}
	return runs
}

// stretches are index ranges [from, to) in which the band is thicker than hair, with one point to spare on each side.
func (b band) stretches(hair float64) [][2]int {
	var out [][2]int
	for i := 0; i < len(b.x); i++ {
		if b.bottom[i]-b.top[i] <= hair {
			continue
		}
		from := max(i-1, 0)
		for i < len(b.x) && b.bottom[i]-b.top[i] > hair {
			i++
		}
		if to := min(i+1, len(b.x)); len(out) > 0 && from <= out[len(out)-1][1] {
			out[len(out)-1][1] = to
		} else {
			out = append(out, [2]int{from, to})
		}
	}
	return out
}

// lines returns the hatch lines y = y0 + slope x of one family, cut to the band. Lines are spread pitch points apart,
// measured across them, and start from the page's origin so that neighbouring bands do not jitter.
func (b band) lines(slope, pitch float64) [][]point {
	rise := pitch * math.Hypot(1, slope)
	var out [][]point
	for i := 0; i+1 < len(b.x); i++ {
		h := b.x[i+1] - b.x[i]
		if !(h > 0) || b.bottom[i]-b.top[i] < 0.05 && b.bottom[i+1]-b.top[i+1] < 0.05 {
			continue
		}
		// offsets y − slope x that the quadrilateral spans
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, j := range []int{i, i + 1} {
			lo = math.Min(lo, b.top[j]-slope*b.x[j])
			hi = math.Max(hi, b.bottom[j]-slope*b.x[j])
		}
		for k := math.Ceil(lo / rise); k*rise <= hi; k++ {
			if s, e, ok := b.inside(i, slope, k*rise); ok {
				out = joined(out, point{b.x[i] + s*h, k*rise + slope*(b.x[i]+s*h)}, point{b.x[i] + e*h, k*rise + slope*(b.x[i]+e*h)})
			}
		}
	}
	return out
}

// inside returns the part, 0 ≤ s < e ≤ 1, of column i in which the line lies between the curves.
func (b band) inside(i int, slope, y0 float64) (s, e float64, ok bool) {
	left, right := y0+slope*b.x[i], y0+slope*b.x[i+1]
	s, e = 0, 1
	for _, side := range [][2]float64{{left - b.top[i], right - b.top[i+1]}, {b.bottom[i] - left, b.bottom[i+1] - right}} {
		switch {
		case side[0] < 0 && side[1] < 0:
			return 0, 0, false
		case side[0] < 0:
			s = math.Max(s, side[0]/(side[0]-side[1]))
		case side[1] < 0:
			e = math.Min(e, side[0]/(side[0]-side[1]))
		}
	}
	return s, e, s < e
}

// joined appends the piece a–b, lengthening an earlier run that ends where it begins.
func joined(runs [][]point, a, b point) [][]point {
	for k := len(runs) - 1; k >= max(0, len(runs)-40); k-- {
		last := len(runs[k]) - 1
		if end := runs[k][last]; math.Abs(end.x-a.x) < 1e-6 && math.Abs(end.y-a.y) < 1e-6 {
			runs[k][last] = b
			return runs
		}
	}
	return append(runs, []point{a, b})
}

// pattern adds the hatch of a paint over a band: every family of lines, at a pitch that suits the medium.
func (g page) pattern(b band, p paint, pitch, width float64) {
	for _, angle := range p.hatch.angles {
		s := shape{runs: b.lines(-math.Tan(angle*math.Pi/180), pitch*p.hatch.pitch), stroke: p.edge, width: width}
		if p.hatch.dash {
			s.dash = []float64{pitch, 0.7 * pitch}
		}
		g.add(s)
	}
}

// swatch draws a filled and hatched box.
func (g page) swatch(b box, p paint, pitch, width float64) {
	g.rect(b, withAlpha(p.fill, 0.55))
	g.pattern(band{[]float64{b.left, b.right}, []float64{b.bottom, b.bottom}, []float64{b.top, b.top}}, p, pitch, width)
	g.add(shape{runs: [][]point{corners(b)}, closed: true, stroke: p.edge, width: width * 1.3})
}
