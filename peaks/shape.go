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

// A shape is a doublet of unit area at a place, smeared by axial divergence.
type shape struct {
	at, gap, slope float64 // degrees, degrees, ratio
	share          float64
	fwhm, eta      float64
	tail           float64 // how far the axial divergence reaches, degrees; to low angles when positive
	cot            float64 // tail per unit of the axial parameter
}

func (d doublet) shape(at, fwhm, eta, axial float64) shape {
	s := shape{at: at, share: 1, fwhm: fwhm, eta: eta}
	if gap, slope, ok := d.gap(at); ok {
		s.gap, s.slope, s.share = gap, slope, d.share
	}
	s.cot = 1 / math.Tan(xrd.Radians(math.Max(at, 1)))
	s.cot = math.Min(math.Max(s.cot, -50), 50)
	s.tail = axial * s.cot
	return s
}

// axialNodes are Gauss–Legendre nodes and weights on 0 to 1: rays leave the equatorial plane by h, evenly spread, and
// are found too low by h² of the tail.
var axialNodes = [3][2]float64{{0.1127016653792583, 5.0 / 18}, {0.5, 8.0 / 18}, {0.8872983346207417, 5.0 / 18}}

// smeared reports whether the tail is long enough to matter.
func (s shape) smeared() bool { return math.Abs(s.tail) > 0.02*s.fwhm }

// value returns the shape at an angle, 1/degree.
func (s shape) value(t float64) float64 {
	if !s.smeared() {
		return s.pair(t + s.tail/3)
	}
	v := 0.0
	for _, n := range axialNodes {
		v += n[1] * s.pair(t+s.tail*n[0]*n[0])
	}
	return v
}

// pair returns the doublet without axial divergence.
func (s shape) pair(t float64) float64 {
	v := s.share * xrd.PseudoVoigt(t-s.at, s.fwhm, s.eta)
	if s.share < 1 {
		v += (1 - s.share) * xrd.PseudoVoigt(t-s.at-s.gap, s.fwhm, s.eta)
	}
	return v
}

// A slope holds the derivatives of a shape to its parameters.
type slope struct{ at, fwhm, eta, axial float64 }

// slopes returns the derivatives of the shape at an angle; those of tail and gap with the place are left out where they
// are negligible (of the tail) and kept where not (of the gap).
func (s shape) slopes(t float64) (d slope) {
	if !s.smeared() {
		d = s.pairSlopes(t + s.tail/3)
		d.axial *= s.cot / 3
		return d
	}
	for _, n := range axialNodes {
		far := n[0] * n[0]
		one := s.pairSlopes(t + s.tail*far)
		d.at += n[1] * one.at
		d.fwhm += n[1] * one.fwhm
		d.eta += n[1] * one.eta
		d.axial += n[1] * one.axial * far * s.cot
	}
	return d
}

// pairSlopes returns the derivatives of pair; axial holds the one to the angle.
func (s shape) pairSlopes(t float64) slope {
	_, dx, w, e := xrd.PseudoVoigtSlopes(t-s.at, s.fwhm, s.eta)
	d := slope{at: -s.share * dx, fwhm: s.share * w, eta: s.share * e, axial: s.share * dx}
	if s.share < 1 {
		_, dx2, w2, e2 := xrd.PseudoVoigtSlopes(t-s.at-s.gap, s.fwhm, s.eta)
		r := 1 - s.share
		d.at, d.fwhm, d.eta, d.axial = d.at-r*dx2*s.slope, d.fwhm+r*w2, d.eta+r*e2, d.axial+r*dx2
	}
	return d
}

// reach is how far, in widths, a shape is drawn; beyond, a Lorentzian has half a percent of its area on either side.
const reach = 30

// addTo adds area times the shape to y, within its reach.
func (s shape) addTo(scan xrd.Scan, y []float64, area float64) {
	i, j := scan.Between(s.at-reach*s.fwhm, s.at+s.gap+reach*s.fwhm)
	for ; i < j; i++ {
		y[i] += area * s.value(scan.TwoTheta[i])
	}
}
