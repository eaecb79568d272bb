package xrd

import (
	"errors"
	"fmt"
	"strings"
)

// A Geometry says how beam and specimen stand to each other.
type Geometry string

// The geometries. Reflection is that of Bragg and Brentano: the surface of a thick specimen, θ–2θ. Transmission is a symmetric one
// through a thin flat specimen, or a capillary filled loosely.
const (
	Reflection   Geometry = ""
	Transmission Geometry = "transmission"
)

// ErrUnknownGeometry is the error of ParseGeometry; test with errors.Is.
var ErrUnknownGeometry = errors.New("unknown geometry")

// ParseGeometry understands reflection and transmission.
func ParseGeometry(s string) (Geometry, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "reflection":
		return Reflection, nil
	case "transmission":
		return Transmission, nil
	}
	return Reflection, fmt.Errorf("%w %q: give reflection or transmission", ErrUnknownGeometry, s)
}

// String names the geometry.
func (g Geometry) String() string {
	if g == Reflection {
		return "reflection"
	}
	return string(g)
}

// Shift returns the shift, degrees 2θ, of a line at twoTheta when the specimen lies displacement mm off its place. In transmission
// nothing can be told of the place: the displacement stands for a zero shift of −2 s/R rad, the same at every angle.
func (i Instrument) Shift(twoTheta, displacement float64) float64 {
	if i.Geometry == Transmission {
		return DisplacementShift(0, displacement, i.Radius)
	}
	return DisplacementShift(twoTheta, displacement, i.Radius)
}

// IntensityFactor returns what the geometry does to the intensity of a line beside LorentzPolarization: in reflection
// FootprintFactor for a specimen of a length in mm; in transmission 1.
//
// A powder of volume V gives, per length of the ring that a slit takes in, V × 1/sin 2θ (Lorentz) × cos θ (grains that reflect) ×
// 1/sin 2θ (of the ring), which is V/(4 sin²θ cos θ) (Klug & Alexander, X-Ray Diffraction Procedures (1974), chapter 3;
// International Tables C, chapter 6.2; both from memory). In symmetric reflection V with its absorption is 1/(2μ) at all angles. In a
// capillary filled loosely V is constant. Through a flat specimen of thickness t, V grows as 1/cos θ and the beam falls by
// exp(−μt/cos θ): at the best thickness, μt = 1, both cancel to first order, to 1 % at 60° and 7 % at 90° 2θ.
func (i Instrument) IntensityFactor(twoTheta, length float64) float64 {
	if i.Geometry == Transmission {
		return 1
	}
	return FootprintFactor(twoTheta, i.Slit, i.Radius, length)
}
