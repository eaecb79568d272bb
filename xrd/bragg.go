package xrd

import "math"

// TwoTheta returns the Bragg angle, degrees 2θ, of planes d Å apart for a wavelength in Å: λ = 2 d sin θ.
// It reports false when no angle satisfies the law (d < λ/2, or an argument that is not a positive number).
func TwoTheta(d, wavelength float64) (degrees float64, ok bool) {
	s := wavelength / (2 * d)
	if !(d > 0) || !(wavelength > 0) || !(s <= 1) {
		return 0, false
	}
	return 2 * math.Asin(s) * 180 / math.Pi, true
}

// DSpacing returns the spacing, Å, of planes that diffract at an angle in degrees 2θ. It reports false outside
// 0° < 2θ ≤ 180°.
func DSpacing(twoTheta, wavelength float64) (d float64, ok bool) {
	if !(twoTheta > 0) || !(twoTheta <= 180) || !(wavelength > 0) {
		return 0, false
	}
	return wavelength / (2 * math.Sin(Radians(twoTheta)/2)), true
}

// ImageTwoTheta returns where planes that diffract the wavelength from at twoTheta degrees diffract the wavelength to:
// sin θ' = (λ'/λ) sin θ. It reports false when they do not diffract it at all.
func ImageTwoTheta(twoTheta, from, to float64) (degrees float64, ok bool) {
	d, ok := DSpacing(twoTheta, from)
	if !ok {
		return 0, false
	}
	return TwoTheta(d, to)
}

// Radians converts degrees to radians.
func Radians(degrees float64) float64 { return degrees * math.Pi / 180 }

// Degrees converts radians to degrees.
func Degrees(radians float64) float64 { return radians * 180 / math.Pi }
