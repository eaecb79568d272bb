package structure

import (
	"errors"
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// ErrWidth says that a line width cannot be used; test with errors.Is.
var ErrWidth = errors.New("impossible line width")

// HeightRIR returns the RIR by height: the highest point of the calculated pattern over the height of corundum 113, when every line is a
// Kα1 and Kα2 pseudo-Voigt, half Gaussian and half Lorentzian, of one FWHM in degrees 2θ (0.01 to 2). It depends on the width, as lines that are
// not resolved add up. For a wavelength too long for corundum 113 it is the zero RIR.
func (s *Structure) HeightRIR(beam refdata.Beam, fwhm float64) (refdata.RIR, error) {
	if !(fwhm >= 0.01 && fwhm <= 2) {
		return refdata.RIR{}, fmt.Errorf("%w: %g°", ErrWidth, fwhm)
	}
	lines, _, err := s.lines(beam, DefaultMaxTwoTheta)
	if err != nil {
		return refdata.RIR{}, err
	}
	reference := corundum()
	standard, _, err := reference.lines(beam, DefaultMaxTwoTheta)
	if err != nil {
		return refdata.RIR{}, err
	}
	d := 1 / math.Sqrt(reference.reciprocal.Norm2(1, 1, 3))
	at, ok := xrd.TwoTheta(d, beam.Radiation.KAlpha1)
	if !ok {
		return refdata.RIR{}, nil
	}
	height := highest(lines, beam.Radiation, fwhm, 0, 180)
	unit := highest(standard, beam.Radiation, fwhm, at-0.3, at+0.3)
	value := s.absolute(height) / reference.absolute(unit)
	return refdata.RIR{Value: value, RelU: relativeU, Origin: "computed", Basis: "height", Radiation: beam.Radiation.Name}, nil
}

// highest returns the greatest height of the pattern near the lines between two angles.
func highest(lines []refdata.Line, r xrd.Radiation, fwhm, low, high float64) float64 {
	strongest := strongestOf(lines, 180)
	var most float64
	for i, l := range lines {
		if l.Intensity < 0.2*strongest || l.TwoTheta < low || l.TwoTheta > high {
			continue
		}
		near := neighbours(lines, i, 3+20*fwhm)
		for step := -75; step <= 75; step++ {
			most = max(most, patternAt(l.TwoTheta+float64(step)*fwhm/50, near, r, fwhm))
		}
	}
	return most
}

// neighbours returns the lines within a distance in degrees of line i.
func neighbours(lines []refdata.Line, i int, distance float64) []refdata.Line {
	from, to := i, i+1
	for from > 0 && lines[i].TwoTheta-lines[from-1].TwoTheta < distance {
		from--
	}
	for to < len(lines) && lines[to].TwoTheta-lines[i].TwoTheta < distance {
		to++
	}
	return lines[from:to]
}

func patternAt(x float64, lines []refdata.Line, r xrd.Radiation, fwhm float64) float64 {
	ratio := r.Ratio
	if !(r.KAlpha2 > 0) {
		ratio = 0
	}
	var y float64
	for _, l := range lines {
		y += l.Intensity / (1 + ratio) * xrd.PseudoVoigt(x-l.TwoTheta, fwhm, 0.5)
		if second, ok := xrd.TwoTheta(l.D, r.KAlpha2); ok && ratio > 0 {
			y += l.Intensity * ratio / (1 + ratio) * xrd.PseudoVoigt(x-second, fwhm, 0.5)
		}
	}
	return y
}
