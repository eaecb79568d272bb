package screen

import (
	"math"
	"sort"

	"phasetally/xrd"
)

// A Filter answers how much intensity a scan holds at an angle: the area of a Kα doublet, counts × degrees, that
// fits a residual best there, and its standard uncertainty.
type Filter struct {
	x       []float64
	runs    []xrd.Run // stretches of x without a gap
	area, u []float64
}

// filterReach is how far, in widths, the filter looks on both sides.
const filterReach = 2.0

// broader is the width of the filter over that of the instrument: broad lines and small misplacements are allowed for.
const broader = 1.2

// NewFilter computes the filter at every point of a scan from what is left of its intensity and the variance of that. The
// background is taken as known.
func NewFilter(x, residual, variance []float64, r xrd.Radiation, ins xrd.Instrument) Filter {
	l := NewLines(x, residual, variance, r)
	f := Filter{x, l.runs, make([]float64, len(x)), make([]float64, len(x))}
	for i, centre := range x {
		fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(centre), ins.LorentzianFWHM(centre))
		f.area[i], f.u[i] = l.at(i, centre, fwhm*broader, eta)
	}
	return f
}

// Lines answer the same for a line of any width, at single angles.
type Lines struct {
	x, residual, weight []float64
	runs                []xrd.Run // stretches of x without a gap
	radiation           xrd.Radiation
	second              float64 // share of Kα2 in a line
}

// NewLines takes what is left of the intensity of a scan and the variance of that. The background is taken as known.
func NewLines(x, residual, variance []float64, r xrd.Radiation) Lines {
	l := Lines{x: x, residual: residual, weight: make([]float64, len(x)), runs: xrd.Runs(x), radiation: r}
	if r.KAlpha2 > 0 {
		l.second = r.Ratio / (1 + r.Ratio)
	}
	for i, v := range variance {
		l.weight[i] = 1 / v
	}
	return l
}

// At returns the area, counts × degrees, of a line of a width (degrees 2θ) and a Lorentzian share at an angle, and its standard
// uncertainty; it reports false outside the scan and in its gaps.
func (l Lines) At(twoTheta, fwhm, eta float64) (area, u float64, ok bool) {
	k := sort.SearchFloat64s(l.x, twoTheta)
	if k == 0 || k >= len(l.x) || xrd.RunOf(l.runs, k).First == k || !(fwhm > 0) {
		return 0, 0, false
	}
	area, u = l.at(k, twoTheta, fwhm, eta)
	return area, u, true
}

// at does that with the profile centred on an angle at or just before point i.
func (l Lines) at(i int, centre, fwhm, eta float64) (area, u float64) {
	partner, ok := xrd.ImageTwoTheta(centre, l.radiation.KAlpha1, l.radiation.KAlpha2)
	if !ok {
		partner = centre
	}
	p := profile{1 / fwhm, eta / fwhm, (1 - eta) / fwhm}
	first := i
	for first > 0 && l.x[first-1] >= centre-filterReach*fwhm { // the partner is above
		first--
	}
	var sr, ss float64
	for k := first; k < len(l.x) && l.x[k] <= partner+filterReach*fwhm; k++ {
		s := (1-l.second)*p.at(l.x[k]-centre) + l.second*p.at(l.x[k]-partner)
		sr += s * l.residual[k] * l.weight[k]
		ss += s * s * l.weight[k]
	}
	return sr / ss, 1 / math.Sqrt(ss)
}

// A profile is a pseudo-Voigt read from tables.
type profile struct{ perWidth, lorentz, gauss float64 }

// tableStep is the distance of table entries in widths; tableEnd is beyond any use.
const (
	tableStep = 1.0 / 64
	tableEnd  = 8
)

// shapes holds the two profiles of width 1 and area 1 at distances in steps of tableStep.
var shapes = func() (out [tableEnd/tableStep + 1]struct{ lorentz, gauss float64 }) {
	for k := range out {
		d := float64(k) * tableStep
		out[k].lorentz, out[k].gauss = xrd.PseudoVoigt(d, 1, 1), xrd.PseudoVoigt(d, 1, 0)
	}
	return out
}()

func (p profile) at(d float64) float64 {
	k := int(math.Abs(d)*p.perWidth*(1/tableStep) + 0.5)
	if k >= len(shapes) {
		return 0
	}
	return p.lorentz*shapes[k].lorentz + p.gauss*shapes[k].gauss
}

// At returns the filter at an angle, degrees 2θ, interpolated; it reports false outside the
// scan and in its gaps.
func (f Filter) At(twoTheta float64) (area, u float64, ok bool) {
	k := sort.SearchFloat64s(f.x, twoTheta)
	if k == 0 || k >= len(f.x) || xrd.RunOf(f.runs, k).First == k {
		return 0, 0, false
	}
	w := (twoTheta - f.x[k-1]) / (f.x[k] - f.x[k-1])
	return f.area[k-1] + w*(f.area[k]-f.area[k-1]), f.u[k-1] + w*(f.u[k]-f.u[k-1]), true
}
