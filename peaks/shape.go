package peaks

import (
	"math"

	"phasetally/xrd"
)

// A doublet knows the wavelengths of the tube as far as a peak's shape needs them.
type doublet struct {
	one, two float64 // Å
	share    float64 // of Kα1 in the whole area
}

func newDoublet(r xrd.Radiation) doublet {
	d := doublet{one: r.KAlpha1, two: r.KAlpha2, share: 1}
	if r.KAlpha2 > r.KAlpha1 && r.Ratio > 0 {
		d.share = 1 / (1 + r.Ratio)
	}
	return d
}

// gap returns the distance, degrees, from Kα1 at twoTheta to Kα2, and how fast Kα2 moves with Kα1. It reports false
// when there is no Kα2.
func (d doublet) gap(twoTheta float64) (gap, slope float64, ok bool) {
	if d.share == 1 {
		return 0, 0, false
	}
	sin1, cos1 := math.Sincos(xrd.Radians(twoTheta) / 2)
	sin2 := sin1 * d.two / d.one
	if !(sin2 < 1) {
		return 0, 0, false
	}
	return xrd.Degrees(2*math.Asin(sin2)) - twoTheta, d.two / d.one * cos1 / math.Sqrt(1-sin2*sin2), true
}

// A shape is a doublet of unit area at a place.
type shape struct {
	at, gap, slope float64 // degrees, degrees, ratio
	share          float64
	fwhm, eta      float64
}

func (d doublet) shape(at, fwhm, eta float64) shape {
	s := shape{at: at, share: 1, fwhm: fwhm, eta: eta}
	if gap, slope, ok := d.gap(at); ok {
		s.gap, s.slope, s.share = gap, slope, d.share
	}
	return s
}

// value returns the shape at an angle, 1/degree.
func (s shape) value(t float64) float64 {
	v := s.share * xrd.PseudoVoigt(t-s.at, s.fwhm, s.eta)
	if s.share < 1 {
		v += (1 - s.share) * xrd.PseudoVoigt(t-s.at-s.gap, s.fwhm, s.eta)
	}
	return v
}

// slopes returns the shape with its derivatives to place, width and mixing.
func (s shape) slopes(t float64) (v, toAt, toFWHM, toEta float64) {
	v, dx, w, e := xrd.PseudoVoigtSlopes(t-s.at, s.fwhm, s.eta)
	v, toAt, toFWHM, toEta = s.share*v, -s.share*dx, s.share*w, s.share*e
	if s.share < 1 {
		v2, dx2, w2, e2 := xrd.PseudoVoigtSlopes(t-s.at-s.gap, s.fwhm, s.eta)
		r := 1 - s.share
		v, toAt, toFWHM, toEta = v+r*v2, toAt-r*dx2*s.slope, toFWHM+r*w2, toEta+r*e2
	}
	return v, toAt, toFWHM, toEta
}

// reach is how far, in widths, a shape is drawn; beyond, a Lorentzian has 1 % of its area on either side.
const reach = 16

// addTo adds area times the shape to y, within its reach.
func (s shape) addTo(scan xrd.Scan, y []float64, area float64) {
	i, j := scan.Between(s.at-reach*s.fwhm, s.at+s.gap+reach*s.fwhm)
	for ; i < j; i++ {
		y[i] += area * s.value(scan.TwoTheta[i])
	}
}
