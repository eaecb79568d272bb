package screen

import (
	"math"

	"phasetally/xrd"
)

// binWidth is the distance of two bins of a grid: a relative difference of spacing that shifts no line by a tenth of its
// width.
const binWidth = 2.5e-4

// A logGrid divides the spacings that a scan can show into bins at equal ratios, from the largest to the smallest. A
// change of cell is then a shift by a number of bins, the same for all lines.
type logGrid struct {
	top        float64 // ln of the spacing of bin 0
	bins       int
	wavelength float64
	instrument xrd.Instrument
	x          []float64
	runs       []xrd.Run // stretches of x without a gap
	gap        []float32 // distance at every bin, in bins, below which two lines are one
	steps      scale
}

// gridMargin is how far a grid reaches beyond the scan, relative: as far as any line may be shifted.
const gridMargin = 0.06

// maxBins bounds what a scan that starts near 0° would ask for.
const maxBins = 1 << 15

// gapWidths is the distance in widths below which two lines are one.
const gapWidths = 0.7

func newGrid(x []float64, wavelength float64, ins xrd.Instrument) logGrid {
	spacing := func(twoTheta float64) float64 { return wavelength / (2 * math.Sin(xrd.Radians(twoTheta/2))) }
	top := math.Log(spacing(x[0]) * (1 + gridMargin))
	bottom := math.Log(spacing(x[len(x)-1]) * (1 - gridMargin))
	bins := min(maxBins, int((top-bottom)/binWidth)+2)
	r := logGrid{top: bottom + float64(bins-1)*binWidth, bins: bins, wavelength: wavelength, instrument: ins, x: x, runs: xrd.Runs(x), gap: make([]float32, bins)}
	r.steps = newIndex(r)
	for m := range r.gap {
		if sin := r.sin(m); sin < 0.999 {
			theta := math.Asin(sin)
			fwhm := xrd.Radians(ins.FWHM(2 * xrd.Degrees(theta)))
			r.gap[m] = float32(gapWidths * fwhm / 2 / math.Tan(theta) / binWidth) // dθ = tan θ d(ln d)
		}
	}
	return r
}

// sin returns the sine of the angle θ of a bin.
func (r logGrid) sin(bin int) float64 {
	return r.wavelength / (2 * math.Exp(r.top-float64(bin)*binWidth))
}

// s2 returns (sin θ/λ)² of a bin, Å⁻².
func (r logGrid) s2(bin int) float64 { return math.Pow(r.sin(bin)/r.wavelength, 2) }

// bin returns the bin of a spacing; it is outside 0 … bins−1 for lines beyond the scan.
func (r logGrid) bin(d float64) int { return int(math.Round((r.top - math.Log(d)) / binWidth)) }

// Changes of cell are tried in steps of stretchBins, as far as a reach.
const stretchBins = 2

// stretch returns the relative change of spacing that moves lines by a number of bins.
func stretch(bins int) float64 { return math.Expm1(-float64(bins) * binWidth) }

// reachBins returns how many bins a reach of relative spacing has, a multiple of stretchBins.
func reachBins(reach float64) int {
	return stretchBins * int(math.Round(reach/(stretchBins*binWidth)))
}

// places returns where every bin lies among the points of the scan when the specimen is displaced: the index of the point
// before it, with the fraction to the next; -1 outside and in gaps.
func (r logGrid) places(displacement float64) []float32 {
	out := make([]float32, r.bins)
	k := 0
	for m := range out {
		out[m] = -1
		sin := r.sin(m)
		if !(sin < 0.999) {
			continue
		}
		angle := 2 * xrd.Degrees(math.Asin(sin))
		angle += r.instrument.Shift(angle, displacement)
		for k < len(r.x) && r.x[k] < angle {
			k++
		}
		if k > 0 && k < len(r.x) && xrd.RunOf(r.runs, k).First < k {
			out[m] = float32(k-1) + float32((angle-r.x[k-1])/(r.x[k]-r.x[k-1]))
		}
	}
	return out
}

// A table is a matched filter read off at the bins of a grid for one displacement.
type table struct {
	displacement float64
	area, u      []float32 // u is 0 outside the scan
	root         []float32 // of area/u, 0 where nothing stands out, from margin before the first bin
}

func newTable(f Filter, displacement float64, places []float32) table {
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
	bin       int
	intensity float64 // strongest line of the phase = 1
	root      float32 // of intensity
}

// observed is a line with what the filter finds at its place.
type observed struct {
	intensity, area, u float64
}

// look reads a table at the places of lines shifted by a number of bins; lines outside the scan are left out.
func (t table) look(lines []stick, shift int, out []observed) []observed {
	for _, l := range lines {
		if m := l.bin + shift; uint(m) < uint(len(t.u)) && t.u[m] > 0 {
			out = append(out, observed{l.intensity, float64(t.area[m]), float64(t.u[m])})
		}
	}
	return out
}

// overlaps fills sums with a cheap measure of how well lines meet with what the scan shows, Σ √(intensity × area/u), when
// they are shifted by first, first+step, … bins, none by more than mostBins.
func (t table) overlaps(lines []stick, first, step int, sums []float32) {
	k := 0
	for ; k+4 <= len(sums); k += 4 { // four at once stay in registers
		at := t.root[margin+first+k*step:]
		var a, b, c, d float32
		for i := range lines {
			l := &lines[i]
			a += l.root * at[l.bin]
			b += l.root * at[l.bin+step]
			c += l.root * at[l.bin+2*step]
			d += l.root * at[l.bin+3*step]
		}
		sums[k], sums[k+1], sums[k+2], sums[k+3] = a, b, c, d
	}
	for ; k < len(sums); k++ {
		sums[k] = 0
		for _, l := range lines {
			sums[k] += l.root * t.root[margin+first+k*step+l.bin]
		}
	}
}
