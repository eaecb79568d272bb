package xrd

import "math"

const (
	gaussPeak   = 0.93943727869965133  // 2 √(ln 2/π): height of a Gaussian of unit area and unit FWHM
	gaussDecay  = 2.77258872223978124  // 4 ln 2: its exponent
	gaussReach  = 20                   // square of the distance, in widths, beyond which it is below 1e-24 of its height
	lorentzPeak = 0.636619772367581343 // 2/π: height of a Lorentzian of unit area and unit FWHM
)

// PseudoVoigt returns η L + (1 − η) G at dx degrees from the centre, in 1/degree: a Lorentzian and a Gaussian, both of
// unit area and of the same full width at half maximum fwhm > 0 (degrees), mixed by 0 ≤ η ≤ 1.
// Source: Int. Tables H 3.9 (from memory).
func PseudoVoigt(dx, fwhm, eta float64) float64 {
	x := dx / fwhm
	v := eta * lorentzPeak / (1 + 4*x*x)
	if x*x < gaussReach {
		v += (1 - eta) * gaussPeak * math.Exp(-gaussDecay*x*x)
	}
	return v / fwhm
}

// PseudoVoigtSlopes returns PseudoVoigt with its partial derivatives to dx, fwhm and eta.
func PseudoVoigtSlopes(dx, fwhm, eta float64) (value, toDx, toFWHM, toEta float64) {
	x := dx / fwhm
	q := 1 / (1 + 4*x*x)
	l := lorentzPeak * q
	g := 0.0
	if x*x < gaussReach {
		g = gaussPeak * math.Exp(-gaussDecay*x*x)
	}
	value = (eta*l + (1-eta)*g) / fwhm
	toX := -(8*eta*l*q + 2*gaussDecay*(1-eta)*g) * x
	return value, toX / (fwhm * fwhm), -(value + x*toX/fwhm) / fwhm, (l - g) / fwhm
}

// IntegralBreadth returns area over height, degrees, of a pseudo-Voigt: fwhm/(η 2/π + (1 − η) 2 √(ln 2/π)).
func IntegralBreadth(fwhm, eta float64) float64 {
	return fwhm / (eta*lorentzPeak + (1-eta)*gaussPeak)
}

// The coefficients of ThompsonCoxHastings, in rising powers of Γ_L.
var (
	tchWidth  = [6]float64{1, 2.69269, 2.42843, 4.47163, 0.07842, 1}
	tchMixing = [4]float64{0, 1.36603, -0.47719, 0.11116}
)

// ThompsonCoxHastings joins a Gaussian and a Lorentzian width (FWHM, degrees, ≥ 0) into the pseudo-Voigt that their
// convolution nearly is: fwhm⁵ = Γ_G⁵ + 2.69269 Γ_G⁴Γ_L + 2.42843 Γ_G³Γ_L² + 4.47163 Γ_G²Γ_L³ + 0.07842 Γ_GΓ_L⁴ + Γ_L⁵
// and η = 1.36603 q − 0.47719 q² + 0.11116 q³ with q = Γ_L/fwhm. Two zero widths give 0, 0.
// Source: Thompson, Cox & Hastings, J. Appl. Cryst. 20 (1987) 79–83 (from memory).
func ThompsonCoxHastings(gaussian, lorentzian float64) (fwhm, eta float64) {
	fwhm, eta, _, _ = ThompsonCoxHastingsSlopes(gaussian, lorentzian)
	return fwhm, eta
}

// ThompsonCoxHastingsSlopes returns ThompsonCoxHastings with the partial derivatives of the width and of the mixing to
// the Gaussian ([0]) and the Lorentzian ([1]) width.
func ThompsonCoxHastingsSlopes(gaussian, lorentzian float64) (fwhm, eta float64, ofFWHM, ofEta [2]float64) {
	sum := gaussian + lorentzian
	if !(sum > 0) {
		return 0, 0, ofFWHM, ofEta
	}
	g, l := gaussian/sum, lorentzian/sum // scaled, so that no fifth power leaves the range of numbers
	var p, toG, toL float64
	for k := range tchWidth {
		n := float64(k)
		p += tchWidth[k] * math.Pow(g, 5-n) * math.Pow(l, n)
		if k < 5 {
			toG += (5 - n) * tchWidth[k] * math.Pow(g, 4-n) * math.Pow(l, n)
		}
		if k > 0 {
			toL += n * tchWidth[k] * math.Pow(g, 5-n) * math.Pow(l, n-1)
		}
	}
	w := math.Pow(p, 0.2)
	ofFWHM = [2]float64{w / (5 * p) * toG, w / (5 * p) * toL}
	q := l / w
	c := tchMixing
	eta = q * (c[1] + q*(c[2]+q*c[3]))
	slope := (c[1] + q*(2*c[2]+q*3*c[3])) / sum
	ofEta = [2]float64{-slope * q * ofFWHM[0] / w, slope * (1/w - q*ofFWHM[1]/w)}
	return w * sum, eta, ofFWHM, ofEta
}
