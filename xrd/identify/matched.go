package identify

import (
	"math"
	"sort"

	"phasetally/xrd"
)

// A matchedFilter answers how much intensity a scan holds at an angle: the area of a Kα doublet, counts × degrees, that
// fits a residual best there, and its standard uncertainty.
type matchedFilter struct {
	x       []float64
	area, u []float64
}

// filterReach is how far, in widths, the filter looks on both sides.
const filterReach = 2.0

// newMatchedFilter computes the filter at every point. The background is taken as known. Broad lines and small
// misplacements are allowed for by a filter of 1.2 times the instrument's width.
func newMatchedFilter(x, residual, variance []float64, r xrd.Radiation, ins xrd.Instrument) matchedFilter {
	f := matchedFilter{x, make([]float64, len(x)), make([]float64, len(x))}
	second := 0.0
	if r.KAlpha2 > 0 {
		second = r.Ratio / (1 + r.Ratio)
	}
	for i, centre := range x {
		fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(centre), ins.LorentzianFWHM(centre))
		fwhm *= 1.2
		partner, ok := xrd.ImageTwoTheta(centre, r.KAlpha1, r.KAlpha2)
		if !ok {
			partner = centre
		}
		first := sort.SearchFloat64s(x, centre-filterReach*fwhm)
		last := sort.SearchFloat64s(x, partner+filterReach*fwhm)
		var sr, ss float64
		for k := first; k < last; k++ {
			s := (1 - second) * xrd.PseudoVoigt(x[k]-centre, fwhm, eta)
			if second > 0 {
				s += second * xrd.PseudoVoigt(x[k]-partner, fwhm, eta)
			}
			sr += s * residual[k] / variance[k]
			ss += s * s / variance[k]
		}
		f.area[i], f.u[i] = sr/ss, 1/math.Sqrt(ss)
	}
	return f
}

// at returns the filter at an angle, interpolated; it reports false outside the scan.
func (f matchedFilter) at(twoTheta float64) (area, u float64, ok bool) {
	k := sort.SearchFloat64s(f.x, twoTheta)
	if k == 0 || k >= len(f.x) {
		return 0, 0, false
	}
	w := (twoTheta - f.x[k-1]) / (f.x[k] - f.x[k-1])
	return f.area[k-1] + w*(f.area[k]-f.area[k-1]), f.u[k-1] + w*(f.u[k]-f.u[k-1]), true
}
