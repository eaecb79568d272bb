package pattern

import (
	"math"
	"slices"
	"sort"

	"phasetally/xrd"
)

const gaussReach = 3.5 // widths beyond which a Gaussian is below 1e-14 of its height

// axialRule averages the tail. Its nodes go in pairs, since two Lorentzians then cost one division; the last may have no weight.
type axialRule [][2]xrd.AxialNode

// axialRules by number of nodes.
var axialRules = func() map[int]axialRule {
	rules := map[int]axialRule{}
	for _, n := range []int{1, 2, 4, 8} {
		nodes := xrd.AxialRule(n)
		if n%2 == 1 {
			nodes = append(slices.Clip(nodes), xrd.AxialNode{Shift: nodes[n-1].Shift})
		}
		for pair := range slices.Chunk(nodes, 2) {
			rules[n] = append(rules[n], [2]xrd.AxialNode(pair))
		}
	}
	return rules
}()

// farRule returns the rule for the flanks of a profile that needs a rule, where two nodes are right to 1e-6 of its height.
func farRule(nodes int) axialRule { return axialRules[min(nodes, 2)] }

// farWidths is how far from the tail, in widths, the flanks begin.
const farWidths = 5

// middle returns the part of ascending angles x between the flanks.
func middle(x []float64, s shape) (lo, hi int) {
	lo = sort.SearchFloat64s(x, s.centre+math.Min(0, s.tail)-farWidths*s.fwhm)
	return lo, lo + sort.SearchFloat64s(x[lo:], s.centre+math.Max(0, s.tail)+farWidths*s.fwhm)
}

// core returns the part of ascending angles x within reach of a Gaussian.
func core(x []float64, centre, fwhm float64) (lo, hi int) {
	reach := gaussReach * fwhm
	lo = sort.SearchFloat64s(x, centre-reach)
	return lo, lo + sort.SearchFloat64s(x[lo:], centre+reach)
}

// addProfile adds a profile to y, parallel to the angles x.
func addProfile(x, y []float64, s shape, nodes int) {
	lo, hi := middle(x, s)
	for _, pair := range farRule(nodes) {
		addLorentzians(x[:lo], y, s, pair)
		addLorentzians(x[hi:], y[hi:], s, pair)
	}
	x, y = x[lo:hi], y[lo:hi]
	for _, pair := range axialRules[nodes] {
		addLorentzians(x, y, s, pair)
		for _, n := range pair {
			if n.Weight > 0 {
				addGaussian(x, y, s, n)
			}
		}
	}
}

// addLorentzians adds the Lorentzian part of two nodes. With T in half widths from the centre it is h/(1 + T²).
func addLorentzians(x, y []float64, s shape, pair [2]xrd.AxialNode) {
	inv := 2 / s.fwhm
	height := s.area * s.eta * xrd.LorentzHeight / s.fwhm
	centreA, centreB := s.centre+s.tail*pair[0].Shift, s.centre+s.tail*pair[1].Shift
	heightA, heightB := height*pair[0].Weight, height*pair[1].Weight
	y = y[:len(x)]
	for i, xi := range x {
		a, b := (xi-centreA)*inv, (xi-centreB)*inv
		a, b = 1+a*a, 1+b*b
		y[i] += (heightA*b + heightB*a) / (a * b)
	}
}

// addGaussian adds the Gaussian part of a node, where it reaches.
func addGaussian(x, y []float64, s shape, n xrd.AxialNode) {
	centre, height, decay := s.centre+s.tail*n.Shift, s.area*(1-s.eta)*xrd.GaussHeight/s.fwhm*n.Weight, xrd.GaussExponent/(s.fwhm*s.fwhm)
	lo, hi := core(x, centre, s.fwhm)
	x, y = x[lo:hi], y[lo:hi]
	for i, xi := range x {
		t := xi - centre
		y[i] += height * xrd.Decay(decay*t*t)
	}
}

// A basis holds the derivatives of one profile to the quantities that parameters move, each parallel to the angles.
type basis [shapeQuantities][]float64

// differentiate fills the basis with the derivatives of a profile at the angles x. With L and G the two parts at unit
// area and y = A (η L + (1 − η) G), ∂y/∂η = A (L − G); the others stand with the parts.
func (b *basis) differentiate(x []float64, s shape, nodes int) {
	for q := range b {
		b[q] = slices.Grow(b[q][:0], len(x))[:len(x)]
		clear(b[q])
	}
	lo, hi := middle(x, s)
	for _, pair := range farRule(nodes) {
		b.addLorentzians(x[:lo], 0, s, pair)
		b.addLorentzians(x[hi:], hi, s, pair)
	}
	for _, pair := range axialRules[nodes] {
		b.addLorentzians(x[lo:hi], lo, s, pair)
		for _, n := range pair {
			if n.Weight > 0 {
				b.addGaussian(x, s, n)
			}
		}
	}
}

// addLorentzians adds the Lorentzian part of two nodes. With T in half widths from the centre and q = 1/(1 + T²),
// L = h q, ∂L/∂centre = 4 h q² T/Γ and Γ ∂L/∂Γ = L − 2 h q². The angles begin at point first of the basis.
func (b *basis) addLorentzians(x []float64, first int, s shape, pair [2]xrd.AxialNode) {
	inv, height := 2/s.fwhm, xrd.LorentzHeight/s.fwhm
	centreA, centreB := s.centre+s.tail*pair[0].Shift, s.centre+s.tail*pair[1].Shift
	heightA, heightB := height*pair[0].Weight, height*pair[1].Weight
	eta, perWidth := s.eta, s.area*s.eta/s.fwhm
	toSlope, tailA, tailB := 4*perWidth, 4*perWidth*pair[0].Shift, 4*perWidth*pair[1].Shift
	g, gg := s.dF[0]*perWidth+s.dE[0]*s.area, 2*s.dF[0]*perWidth
	l, ll := s.dF[1]*perWidth+s.dE[1]*s.area, 2*s.dF[1]*perWidth
	value, slope, tail, gauss, lorentz := b.from(first, len(x))
	for i, xi := range x {
		tA, tB := (xi-centreA)*inv, (xi-centreB)*inv
		pA, pB := 1+tA*tA, 1+tB*tB
		r := 1 / (pA * pB)
		qA, qB := pB*r, pA*r
		lA, lB := heightA*qA, heightB*qB
		qA, qB = lA*qA, lB*qB
		v, vv := lA+lB, qA+qB
		qA, qB = qA*tA, qB*tB
		value[i] += eta * v
		slope[i] += toSlope * (qA + qB)
		tail[i] += tailA*qA + tailB*qB
		gauss[i] += g*v - gg*vv
		lorentz[i] += l*v - ll*vv
	}
}

// addGaussian adds the Gaussian part of a node, where it reaches. With t from the centre and z = 4 ln 2 t²/Γ²,
// G = h exp(−z), ∂G/∂centre = 8 ln 2 G t/Γ² and Γ ∂G/∂Γ = (2 z − 1) G.
func (b *basis) addGaussian(x []float64, s shape, n xrd.AxialNode) {
	centre, height, decay := s.centre+s.tail*n.Shift, xrd.GaussHeight/s.fwhm*n.Weight, xrd.GaussExponent/(s.fwhm*s.fwhm)
	share, perWidth := 1-s.eta, s.area*(1-s.eta)/s.fwhm
	toSlope := 2 * decay * perWidth * s.fwhm
	toTail := toSlope * n.Shift
	g, gg := s.dF[0]*perWidth+s.dE[0]*s.area, 2*s.dF[0]*perWidth
	l, ll := s.dF[1]*perWidth+s.dE[1]*s.area, 2*s.dF[1]*perWidth
	lo, hi := core(x, centre, s.fwhm)
	value, slope, tail, gauss, lorentz := b.from(lo, hi-lo)
	for i, xi := range x[lo:hi] {
		t := xi - centre
		z := decay * t * t
		v := height * xrd.Decay(z)
		t *= v
		z *= v
		value[i] += share * v
		slope[i] += toSlope * t
		tail[i] += toTail * t
		gauss[i] += gg*z - g*v
		lorentz[i] += ll*z - l*v
	}
}

// from returns n points of each quantity from point first on.
func (b *basis) from(first, n int) (value, slope, tail, gauss, lorentz []float64) {
	return b[toArea][first:][:n], b[toCentre][first:][:n], b[toTail][first:][:n], b[toGaussian][first:][:n], b[toLorentzian][first:][:n]
}
