package identify

import (
	"math"

	"phasetally/xrd"
)

// rulerStep is the distance of two marks of a ruler: a relative difference of spacing that shifts no line by a tenth of its
// width.
const rulerStep = 2.5e-4

// A ruler divides the spacings that a scan can show into marks at equal ratios, from the largest to the smallest. A
// change of cell is then a shift by a number of marks, the same for all lines.
type ruler struct {
	top        float64 // ln of the spacing of mark 0
	marks      int
	wavelength float64
	radius     float64
	x          []float64
	gap        []float32 // distance at every mark, in marks, below which two lines are one
	steps      scale
}

// rulerMargin is how far a ruler reaches beyond the scan, relative: as far as any line may be shifted.
const rulerMargin = 0.06

// maxMarks bounds what a scan that starts near 0° would ask for.
const maxMarks = 1 << 15

// gapWidths is the distance in widths below which two lines are one.
const gapWidths = 0.7

func newRuler(x []float64, wavelength float64, ins xrd.Instrument) ruler {
	spacing := func(twoTheta float64) float64 { return wavelength / (2 * math.Sin(xrd.Radians(twoTheta/2))) }
	top := math.Log(spacing(x[0]) * (1 + rulerMargin))
	bottom := math.Log(spacing(x[len(x)-1]) * (1 - rulerMargin))
	marks := min(maxMarks, int((top-bottom)/rulerStep)+2)
	r := ruler{top: bottom + float64(marks-1)*rulerStep, marks: marks, wavelength: wavelength, radius: ins.Radius, x: x, gap: make([]float32, marks)}
	r.steps = newScale(r)
	for m := range r.gap {
		if sin := r.sin(m); sin < 0.999 {
			theta := math.Asin(sin)
			fwhm := xrd.Radians(widthAt(ins, 2*xrd.Degrees(theta)))
			r.gap[m] = float32(gapWidths * fwhm / 2 / math.Tan(theta) / rulerStep) // dθ = tan θ d(ln d)
		}
	}
	return r
}

// sin returns the sine of the angle θ of a mark.
func (r ruler) sin(mark int) float64 {
	return r.wavelength / (2 * math.Exp(r.top-float64(mark)*rulerStep))
}

// mark returns the mark of a spacing; it is outside 0 … marks−1 for lines beyond the scan.
func (r ruler) mark(d float64) int { return int(math.Round((r.top - math.Log(d)) / rulerStep)) }

// Changes of cell are tried in steps of stretchMarks, as far as a reach.
const stretchMarks = 2

// stretch returns the relative change of spacing that moves lines by a number of marks.
func stretch(marks int) float64 { return math.Expm1(-float64(marks) * rulerStep) }

// reachMarks returns how many marks a reach of relative spacing has, a multiple of stretchMarks.
func reachMarks(reach float64) int {
	return stretchMarks * int(math.Round(reach/(stretchMarks*rulerStep)))
}

// places returns where every mark lies among the points of the scan when the specimen is displaced: the index of the point
// before it, with the fraction to the next; -1 outside.
func (r ruler) places(displacement float64) []float32 {
	out := make([]float32, r.marks)
	k := 0
	for m := range out {
		out[m] = -1
		sin := r.sin(m)
		if !(sin < 0.999) {
			continue
		}
		angle := 2 * xrd.Degrees(math.Asin(sin))
		angle += xrd.DisplacementShift(angle, displacement, r.radius)
		for k < len(r.x) && r.x[k] < angle {
			k++
		}
		if k > 0 && k < len(r.x) {
			out[m] = float32(k-1) + float32((angle-r.x[k-1])/(r.x[k]-r.x[k-1]))
		}
	}
	return out
}

// A table is a matched filter read off at the marks of a ruler for one displacement.
type table struct {
	displacement float64
	area, u      []float32 // u is 0 outside the scan
	root         []float32 // of area/u, 0 where nothing stands out, from margin before the first mark
}

func newTable(f matchedFilter, displacement float64, places []float32) table {
	n := len(places)
	flat := make([]float32, 3*n+2*margin)
	t := table{displacement, flat[:n], flat[n : 2*n], flat[2*n:]}
	for m, p := range places {
		if p < 0 {
			continue
		}
		k := min(int(p), len(f.area)-2) // single precision may round up to the last point
		w := float64(p) - float64(k)
		a := f.area[k] + w*(f.area[k+1]-f.area[k])
		u := f.u[k] + w*(f.u[k+1]-f.u[k])
		t.area[m], t.u[m] = float32(a), float32(u)
		if a > 0 {
			t.root[m+margin] = float32(math.Sqrt(a / u))
		}
	}
	return t
}

// A stick is a line as screening sees it.
type stick struct {
	mark      int
	intensity float64 // strongest line of the phase = 1
	root      float32 // of intensity
}

// observed is a line with what the filter finds at its place.
type observed struct {
	intensity, area, u float64
}

// look reads a table at the places of lines shifted by a number of marks; lines outside the scan are left out.
func (t table) look(lines []stick, shift int, out []observed) []observed {
	for _, l := range lines {
		if m := l.mark + shift; uint(m) < uint(len(t.u)) && t.u[m] > 0 {
			out = append(out, observed{l.intensity, float64(t.area[m]), float64(t.u[m])})
		}
	}
	return out
}

// overlaps fills sums with a cheap measure of how well lines meet with what the scan shows, Σ √(intensity × area/u), when
// they are shifted by first, first+step, … marks, none by more than mostMarks.
func (t table) overlaps(lines []stick, first, step int, sums []float32) {
	k := 0
	for ; k+4 <= len(sums); k += 4 { // four at once stay in registers
		at := t.root[margin+first+k*step:]
		var a, b, c, d float32
		for i := range lines {
			l := &lines[i]
			a += l.root * at[l.mark]
			b += l.root * at[l.mark+step]
			c += l.root * at[l.mark+2*step]
			d += l.root * at[l.mark+3*step]
		}
		sums[k], sums[k+1], sums[k+2], sums[k+3] = a, b, c, d
	}
	for ; k < len(sums); k++ {
		sums[k] = 0
		for _, l := range lines {
			sums[k] += l.root * t.root[margin+first+k*step+l.mark]
		}
	}
}
