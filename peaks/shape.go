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

// rays returns the rays of the shape; each is found its shift of the tail below its place.
func (s shape) rays() []xrd.AxialNode {
	return xrd.AxialRule(xrd.AxialNodes(math.Abs(s.tail) / s.fwhm))
}

// value returns the shape at an angle, 1/degree.
func (s shape) value(t float64) float64 {
	angle, v := [1]float64{t}, [1]float64{}
	s.add(v[:], angle[:], 1)
	return v[0]
}

// add adds area times the shape at every angle to dst.
func (s shape) add(dst, angles []float64, area float64) {
	for _, n := range s.rays() {
		at := s.at - s.tail*n.Shift
		xrd.AddPseudoVoigt(dst, angles, at, s.fwhm, s.eta, area*n.Weight*s.share)
		if s.share < 1 {
			xrd.AddPseudoVoigt(dst, angles, at+s.gap, s.fwhm, s.eta, area*n.Weight*(1-s.share))
		}
	}
}

// addSlopes adds area times the derivatives of the shape to its place, the logarithm of its width and its mixing, at every
// angle. That of the tail with the place is negligible and left out; that of the gap is not.
func (s shape) addSlopes(angles []float64, area float64, toPlace, toWidth, toMixing []float64) {
	for _, n := range s.rays() {
		at := s.at - s.tail*n.Shift
		xrd.AddPseudoVoigtSlopes(angles, at, s.fwhm, s.eta, area*n.Weight*s.share, 1, toPlace, toWidth, toMixing)
		if s.share < 1 {
			xrd.AddPseudoVoigtSlopes(angles, at+s.gap, s.fwhm, s.eta, area*n.Weight*(1-s.share), s.slope, toPlace, toWidth, toMixing)
		}
	}
}

// A peak is drawn to where its Lorentzian tail is lost in the noise, between these numbers of widths.
const (
	leastReach = 10
	mostReach  = 100
	faintTail  = 0.05 // of the noise of a point
)

// reachOf returns how far, degrees, a peak is drawn beyond its components: far from its place d it has area η w/(2π d²).
func (s *searcher) reachOf(p start) float64 {
	tail := math.Sqrt(math.Abs(p.area) * p.eta * p.fwhm / (2 * math.Pi * s.faint))
	return math.Min(math.Max(tail, leastReach*p.fwhm), mostReach*p.fwhm)
}

// drawn returns the points [i, j) at which a peak is drawn.
func (s *searcher) drawn(p start) (i, j int) {
	sh, reach := s.shapeOf(p), s.reachOf(p)
	return s.scan.Between(p.at-math.Max(sh.tail, 0)-reach, p.at+sh.gap-math.Min(sh.tail, 0)+reach)
}

// add adds sign times a peak to s.peaks.
func (s *searcher) add(p start, sign float64) {
	i, j := s.drawn(p)
	s.shapeOf(p).add(s.peaks[i:j], s.scan.TwoTheta[i:j], sign*p.area)
}
