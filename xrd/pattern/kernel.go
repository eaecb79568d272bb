package pattern

import "math"

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

// addProfile adds a profile to y, parallel to the angles x.
func addProfile(x, y []float64, s shape, nodes int) {
	rule := axialRules[nodes]
	for j, u2 := range rule.shift {
		area, centre := s.area*rule.weight[j], s.centre+s.tail*u2
		inv := 1 / s.fwhm
		l, g := area*s.eta*lorentzHeight*inv, area*(1-s.eta)*gaussHeight*inv
		for i, xi := range x {
			t := (xi - centre) * inv
			t2 := t * t
			v := l / (1 + 4*t2)
			if t2 < gaussReach*gaussReach {
				v += g * math.Exp(-gaussExponent*t2)
			}
			y[i] += v
		}
	}
}

// A slopeRow is a row of the Jacobian over the points of a profile, with the derivatives of the shape's quantities.
type slopeRow struct {
	row []float64
	of  [shapeQuantities]float64
}

// addSlopes adds to each row scale × the derivative of the profile to that row's parameter.
func addSlopes(x []float64, s shape, nodes int, scale float64, rows []slopeRow) {
	rule := axialRules[nodes]
	inv := 1 / s.fwhm
	for j, u2 := range rule.shift {
		weight, centre := scale*rule.weight[j], s.centre+s.tail*u2
		for i, xi := range x {
			t := (xi - centre) * inv
			t2 := t * t
			q := 1 / (1 + 4*t2)
			l, g := lorentzHeight*q*inv, 0.0
			if t2 < gaussReach*gaussReach {
				g = gaussHeight * inv * math.Exp(-gaussExponent*t2)
			}
			v := weight * (s.eta*l + (1-s.eta)*g)
			shift := weight * s.area * t * inv * (8*s.eta*l*q + 2*gaussExponent*(1-s.eta)*g)
			width := t*shift - v*s.area*inv
			mix := weight * s.area * (l - g)
			for k := range rows {
				r := &rows[k]
				r.row[i] += r.of[toArea]*v + (r.of[toCentre]+r.of[toTail]*u2)*shift + r.of[toFWHM]*width + r.of[toEta]*mix
			}
		}
	}
}
