package xrd

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A Monochromator is the crystal in the beam; the zero value is none (or a filter).
type Monochromator struct {
	Kind     MonochromatorKind // none, mosaic or perfect
	TwoTheta float64           // its own Bragg angle, degrees 2θ
}

// MonochromatorKind says how a monochromator crystal polarises.
type MonochromatorKind int

// The kinds of monochromator: none; a mosaic crystal such as graphite, whose polarisation ratio is cos²2θm; a perfect
// crystal such as germanium, whose ratio is |cos 2θm|.
const (
	NoMonochromator MonochromatorKind = iota
	MosaicMonochromator
	PerfectMonochromator
)

// graphiteD is the 002 spacing of pyrolytic graphite, Å (common practice: 26.6° 2θ for Cu Kα).
const graphiteD = 3.356

// ErrUnknownMonochromator says that a monochromator was not understood; test with errors.Is.
var ErrUnknownMonochromator = errors.New("unknown monochromator")

// ParseMonochromator understands "none", "graphite", or the crystal's Bragg angle in degrees 2θ (taken as mosaic;
// "perfect:27.3" for a perfect crystal).
func ParseMonochromator(s string, r Radiation) (Monochromator, error) {
	name := strings.ToLower(strings.TrimSpace(s))
	switch name {
	case "", "none":
		return Monochromator{}, nil
	case "graphite":
		angle, ok := TwoTheta(graphiteD, r.KAlpha1)
		if !ok {
			return Monochromator{}, fmt.Errorf("%w: graphite does not diffract %g Å", ErrUnknownMonochromator, r.KAlpha1)
		}
		return Monochromator{MosaicMonochromator, angle}, nil
	}
	kind := MosaicMonochromator
	if rest, ok := strings.CutPrefix(name, "perfect:"); ok {
		kind, name = PerfectMonochromator, rest
	}
	v, err := strconv.ParseFloat(name, 64)
	if err != nil || !(v > 0 && v < 180) {
		return Monochromator{}, fmt.Errorf("%w %q: give none, graphite, or its angle in degrees 2θ", ErrUnknownMonochromator, s)
	}
	return Monochromator{kind, v}, nil
}

// PolarizationRatio returns A of LorentzPolarization: 1 without a crystal, cos²2θm or |cos 2θm| with one.
func (m Monochromator) PolarizationRatio() float64 {
	c := math.Cos(Radians(m.TwoTheta))
	switch m.Kind {
	case MosaicMonochromator:
		return c * c
	case PerfectMonochromator:
		return math.Abs(c)
	}
	return 1
}

// String names the monochromator as ParseMonochromator reads it.
func (m Monochromator) String() string {
	switch m.Kind {
	case MosaicMonochromator:
		return strconv.FormatFloat(m.TwoTheta, 'f', 2, 64)
	case PerfectMonochromator:
		return "perfect:" + strconv.FormatFloat(m.TwoTheta, 'f', 2, 64)
	}
	return "none"
}

// LorentzPolarization returns (1 + A cos²2θ)/((1 + A) sin²θ cos θ) for a powder in Bragg–Brentano geometry at an angle
// in degrees 2θ (0 < 2θ < 180) and a polarisation ratio A. Source: Int. Tables C 6.2 (from memory).
func LorentzPolarization(twoTheta, a float64) float64 {
	sin, cos := math.Sincos(Radians(twoTheta) / 2)
	c2 := 1 - 2*sin*sin
	return (1 + a*c2*c2) / ((1 + a) * sin * sin * cos)
}
