package peaks

import (
	"math"
	"slices"

	"phasetally/xrd"
)

// A scan of more points than manyPoints, with more than amplePoints across its narrowest lines, tells no more than one of fewer points:
// a fit of profiles loses less than a hundredth of its precision when ten points or more lie across a line.
const (
	manyPoints  = 20_000
	amplePoints = 10
	// narrowestLine is the width, degrees with Cu Kα, that is reckoned with where no line stands out: no laboratory instrument makes
	// narrower ones (common practice).
	narrowestLine = 0.03
	plainSigma    = 20.0 // net height over noise of a line whose width is read off
)

// Oversampled returns how many neighbours of a scan can be joined without loss, 1 for ordinary scans. The radiation has a
// wavelength in Å.
func Oversampled(scan xrd.Scan, wavelength float64) int {
	if scan.Len() <= manyPoints {
		return 1
	}
	step := scan.Step()
	least := narrowestLine * xrd.Broadness(wavelength)
	if w, ok := narrowestTop(scan); ok {
		least = math.Min(w, 1) // broader ones may hide finer ones
	}
	k := int(least / amplePoints / step)
	return max(1, min(k, scan.Len()/(manyPoints/4)))
}

// narrowestTop returns the width at half height, degrees, that a tenth of the strongest maxima of a scan stay under, each the highest of
// its degree, and false when fewer than three stand out. Widths are read off means of so many points that their
// noise does not make tops of its own.
func narrowestTop(scan xrd.Scan) (width float64, ok bool) {
	var widths []float64
	for _, r := range xrd.Runs(scan.TwoTheta) {
		for lo := r.First; lo < r.End; {
			hi := lo
			for hi < r.End && scan.TwoTheta[hi] < scan.TwoTheta[lo]+1 {
				hi++
			}
			if w, ok := topWidth(scan.TwoTheta[lo:hi], scan.Intensity[lo:hi]); ok {
				widths = append(widths, w)
			}
			lo = hi
		}
	}
	if len(widths) < 3 {
		return 0, false
	}
	slices.Sort(widths)
	return widths[len(widths)/10], true
}

// topWidth returns the width at half height of the highest point of a stretch, false when none stands out or it is cut.
func topWidth(x, y []float64) (width float64, ok bool) {
	if len(y) < 3 {
		return 0, false
	}
	base := median(sample(y))
	top := 0
	for i, v := range y {
		if v > y[top] {
			top = i
		}
	}
	net := y[top] - base
	if !(net > plainSigma*math.Sqrt(math.Max(base, 1))) || !(net > plainSigma*math.Sqrt(y[top])/2) {
		return 0, false
	}
	lo, hi := top, top
	for lo > 0 && y[lo] > base+net/2 {
		lo--
	}
	for hi < len(y)-1 && y[hi] > base+net/2 {
		hi++
	}
	return x[hi] - x[lo], lo > 0 && hi < len(y)-1
}
