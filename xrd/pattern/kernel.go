package pattern

import (
	"math"
	"slices"
	"sort"
)

const (
	gaussHeight   = 0.93943727869965133  // 2 √(ln 2/π)
	gaussExponent = 2.77258872223978124  // 4 ln 2
	lorentzHeight = 0.636619772367581343 // 2/π
	gaussReach    = 3.5                  // widths beyond which a Gaussian is below 1e-14 of its height
)

// axialRule holds the Gauss–Legendre rules on 0..1 that average the tail: the shift at node u is tail × u².
type axialRule struct{ shift, weight []float64 }

var axialRules = map[int]axialRule{
	1: {[]float64{1. / 3}, []float64{1}}, // the mean shift
	2: legendre([]float64{0.5773502691896257}, []float64{1}),
	4: legendre([]float64{0.3399810435848563, 0.8611363115940526}, []float64{0.6521451548625461, 0.3478548451374538}),
	8: legendre([]float64{0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363},
		[]float64{0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763}),
}

// legendre turns the positive abscissae and weights of a rule on −1..1 (Abramowitz & Stegun table 25.4, from memory)
// into squared abscissae and weights on 0..1.
func legendre(x, w []float64) axialRule {
	var r axialRule
	for i := range x {
		for _, s := range []float64{-1, 1} {
			u := (1 + s*x[i]) / 2
			r.shift = append(r.shift, u*u)
			r.weight = append(r.weight, w[i]/2)
		}
	}
	return r
}

// axialNodes returns the rule that a tail of the given length, in widths, needs.
func axialNodes(widths float64) int {
	switch {
	case widths < 0.02:
		return 1
	case widths < 0.3:
		return 2
	case widths < 1.2:
		return 4
	}
	return 8
}

// core returns the part of ascending angles x within reach of a Gaussian.
func core(x []float64, centre, fwhm float64) (lo, hi int) {
	reach := gaussReach * fwhm
	return sort.SearchFloat64s(x, centre-reach), sort.SearchFloat64s(x, centre+reach)
}

// addProfile adds a profile to y, parallel to the angles x.
func addProfile(x, y []float64, s shape, nodes int) {
	rule := axialRules[nodes]
	inv := 1 / s.fwhm
	for j, u2 := range rule.shift {
		area, centre := s.area*rule.weight[j]*inv, s.centre+s.tail*u2
		l, g := area*s.eta*lorentzHeight, area*(1-s.eta)*gaussHeight
		y := y[:len(x)]
		for i, xi := range x {
			t := (xi - centre) * inv
			y[i] += l / (1 + 4*t*t)
		}
		lo, hi := core(x, centre, s.fwhm)
		for i, xi := range x[lo:hi] {
			t := (xi - centre) * inv
			y[lo+i] += g * math.Exp(-gaussExponent*t*t)
		}
	}
}

// A basis holds the derivatives of one profile to the quantities that parameters move, each parallel to the angles.
type basis [shapeQuantities][]float64

// clear makes room for n points, all 0.
func (b *basis) clear(n int) {
	for q := range b {
		b[q] = slices.Grow(b[q][:0], n)[:n]
		clear(b[q])
	}
}

// differentiate fills the basis with the derivatives of a profile at the angles x. With t in widths Γ from the centre,
// L and G the two parts at unit area and q = 1/(1 + 4t²): ∂/∂centre = A t/Γ (8 η q L + 8 ln 2 (1 − η) G),
// ∂/∂Γ = t ∂/∂centre − y/Γ and ∂/∂η = A (L − G).
func (b *basis) differentiate(x []float64, s shape, nodes int) {
	b.clear(len(x))
	rule := axialRules[nodes]
	for j, u2 := range rule.shift {
		b.addNode(x, s, rule.weight[j], u2)
	}
	value, width, mix := b[toArea], b[toGaussian], b[toLorentzian]
	for i, v := range value {
		w, m := s.area*(width[i]-v)/s.fwhm, s.area*mix[i]
		width[i] = s.dF[0]*w + s.dE[0]*m
		mix[i] = s.dF[1]*w + s.dE[1]*m
	}
}

// addNode adds one node of the axial tail, for unit area. Until all nodes are there, the rows of the two widths hold
// Γ ∂y/∂Γ + y and L − G.
func (b *basis) addNode(x []float64, s shape, weight, u2 float64) {
	inv := 1 / s.fwhm
	centre := s.centre + s.tail*u2
	unit, perWidth := weight*inv, s.area*inv
	n := len(x)
	value, slope, tail, width, mix := b[toArea][:n], b[toCentre][:n], b[toTail][:n], b[toGaussian][:n], b[toLorentzian][:n]
	height := unit * lorentzHeight
	for i, xi := range x {
		t := (xi - centre) * inv
		q := 1 / (1 + 4*t*t)
		l := height * q
		v := s.eta * l
		d := 8 * v * q * t
		value[i] += v
		slope[i] += d * perWidth
		tail[i] += d * perWidth * u2
		width[i] += d * t
		mix[i] += l
	}
	height = unit * gaussHeight
	lo, hi := core(x, centre, s.fwhm)
	for i := lo; i < hi; i++ {
		t := (x[i] - centre) * inv
		g := height * math.Exp(-gaussExponent*t*t)
		v := (1 - s.eta) * g
		d := 2 * gaussExponent * v * t
		value[i] += v
		slope[i] += d * perWidth
		tail[i] += d * perWidth * u2
		width[i] += d * t
		mix[i] -= g
	}
}
