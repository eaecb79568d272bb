package xrd

import "math"

// The parts of a pseudo-Voigt of unit area and unit FWHM.
const (
	GaussHeight   = 0.93943727869965133 // of the Gaussian, 2 √(ln 2/π)
	GaussExponent = 4 * math.Ln2        // it falls as exp(−GaussExponent x²), x in FWHM
	LorentzHeight = 2 / math.Pi         // of the Lorentzian, which falls as 1/(1 + 4x²)
)

const gaussReach = 20 // square of the distance, in widths, beyond which a Gaussian is below 1e-24 of its height

// PseudoVoigt returns η L + (1 − η) G at dx degrees from the centre, in 1/degree: a Lorentzian and a Gaussian, both of
// unit area and of the same full width at half maximum fwhm > 0 (degrees), mixed by 0 ≤ η ≤ 1.
// Source: Int. Tables H 3.9 (from memory).
func PseudoVoigt(dx, fwhm, eta float64) float64 {
	x := dx / fwhm
	v := eta * LorentzHeight / (1 + 4*x*x)
	if x*x < gaussReach {
		v += (1 - eta) * GaussHeight * Decay(GaussExponent*x*x)
	}
	return v / fwhm
}

// AddPseudoVoigt adds area × PseudoVoigt(angles[i] − centre, fwhm, eta) to dst[i], for all points at once: angles and
// dst have the same length, angles, centre and fwhm are degrees.
func AddPseudoVoigt(dst, angles []float64, centre, fwhm, eta, area float64) {
	narrow := 1 / fwhm
	l, g := area*eta*LorentzHeight*narrow, area*(1-eta)*GaussHeight*narrow
	dst = dst[:len(angles)]
	for i, t := range angles {
		x := (t - centre) * narrow
		x *= x
		v := l / (1 + 4*x)
		if x < gaussReach {
			v += g * Decay(GaussExponent*x)
		}
		dst[i] += v
	}
}

// AddPseudoVoigtSlopes adds, for all points at once, area × the derivatives of PseudoVoigt(angles[i] − centre, fwhm, eta) to
// the centre (times moves), to ln fwhm and to eta; slices are parallel, angles, centre and fwhm are degrees.
func AddPseudoVoigtSlopes(angles []float64, centre, fwhm, eta, area, moves float64, toCentre, toLogWidth, toEta []float64) {
	narrow := 1 / fwhm
	l, g := area*LorentzHeight*narrow, area*GaussHeight*narrow
	perCentre, share := moves*narrow, 1-eta
	toCentre, toLogWidth, toEta = toCentre[:len(angles)], toLogWidth[:len(angles)], toEta[:len(angles)]
	for i, t := range angles {
		x := (t - centre) * narrow
		xx := x * x
		q := 1 / (1 + 4*xx)
		lorentz, gauss := l*q, 0.0
		if xx < gaussReach {
			gauss = g * Decay(GaussExponent*xx)
		}
		slope := (8*eta*lorentz*q + 2*GaussExponent*share*gauss) * x // −∂/∂x
		toCentre[i] += slope * perCentre
		toLogWidth[i] += slope*x - eta*lorentz - share*gauss
		toEta[i] += lorentz - gauss
	}
}

// IntegralBreadth returns area over height, degrees, of a pseudo-Voigt: fwhm/(η 2/π + (1 − η) 2 √(ln 2/π)).
func IntegralBreadth(fwhm, eta float64) float64 {
	return fwhm / (eta*LorentzHeight + (1-eta)*GaussHeight)
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
	gs, ls := powers(g), powers(l)
	for k, c := range tchWidth {
		p += c * gs[5-k] * ls[k]
		if k < 5 {
			toG += float64(5-k) * c * gs[4-k] * ls[k]
			toL += float64(k+1) * tchWidth[k+1] * gs[4-k] * ls[k]
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

// powers returns the powers 0 to 5 of x.
func powers(x float64) [6]float64 {
	x2 := x * x
	return [6]float64{1, x, x2, x2 * x, x2 * x2, x2 * x2 * x}
}
