package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// A Fibre is a texture with rotational symmetry about the axis of a piece, as drawing, pressing and columnar growth make:
// the poles of one set of planes gather about the axis after March and Dollase, with all turns about the pole alike. Lines
// tell what sections of the piece show.
type Fibre struct {
	Pole  [3]int      // h k l of the planes that gather
	R     float64     // March–Dollase coefficient about the axis; below 1: the poles lie along it
	Lines []FibreLine // those that the scan covers
}

// A FibreLine is a line with its intensity over that of a random powder in a section across the axis, whose surface normal
// is the axis, and in one along it.
type FibreLine struct {
	H, K, L                  int     // of the strongest family
	Transverse, Longitudinal float64 // intensity over that of a random powder in a section across the axis and along it
	Expected                 float64 // intensity of a random powder, in units of the fit
}

// azimuths is how many turns, over a quarter of a circle, the average over a longitudinal section takes; the integrand is
// periodic and smooth.
const azimuths = 48

// LongitudinalDensity returns the density, relative to a random powder, of planes whose normal makes an angle with squared
// cosine cos2 to the texture pole, in a direction at right angles to the fibre axis: the mean of March and Dollase's
// density over all turns about that direction, (1/2π) ∫ P(sin²β cos²φ; r) dφ. Derived here: when the planes lie along the
// surface, the pole is tilted by β from the normal, at any turn φ about it, and cos α = sin β cos φ from the axis.
func LongitudinalDensity(cos2, r float64) float64 {
	var sum float64
	for i := range azimuths {
		c := math.Cos(math.Pi / 2 * (float64(i) + 0.5) / azimuths)
		sum += pattern.MarchDollase((1-cos2)*c*c, r)
	}
	return sum / azimuths
}

// FibreOf works out what sections across and along the axis show of a phase whose lines were fitted. In a section across
// it, the texture of the fit is that of the piece. In one along it (longitudinal), axis and coefficient are those with which
// a fibre in the surface explains the lines best. It reports false when no fibre explains them.
func FibreOf(p refdata.Phase, lines []pattern.LineFit, pole [3]int, r float64, longitudinal bool) (Fibre, bool) {
	f := Fibre{Pole: pole, R: r}
	if p.Cell == nil || !(r > 0) {
		return f, false
	}
	if longitudinal {
		var ok bool
		if f, ok = fibreAlong(p, lines); !ok {
			return f, false
		}
	}
	for _, l := range lines {
		if len(l.Line.Families) == 0 || !l.Covered {
			continue
		}
		h := l.Line.Families[0]
		across, along := f.factors(p, l.Line)
		f.Lines = append(f.Lines, FibreLine{h.H, h.K, h.L, across, along, l.Expected})
	}
	return f, len(f.Lines) > 0
}

// factors returns the intensity of a line in both sections over that of a random powder.
func (f Fibre) factors(p refdata.Phase, l refdata.Line) (transverse, longitudinal float64) {
	cosines := pattern.PoleCosines(p, l, f.Pole)
	return density(l, cosines, f.R, false), density(l, cosines, f.R, true)
}

const (
	fibreGain  = 12.0 // χ² that a fibre must take away to be one, as for a texture of the fit
	fibreLines = 3
)

// telling returns the lines that tell of texture.
func telling(lines []pattern.LineFit) []pattern.LineFit {
	var kept []pattern.LineFit
	for _, l := range lines {
		if l.Own() && l.Expected > 5*l.ObservedU && len(l.Line.Families) > 0 {
			kept = append(kept, l)
		}
	}
	return kept
}

// fibreAlong finds the axis and the coefficient of a fibre that lies in the surface.
func fibreAlong(p refdata.Phase, lines []pattern.LineFit) (best Fibre, ok bool) {
	kept := telling(lines)
	if len(kept) < fibreLines {
		return best, false
	}
	factors := make([]float64, len(kept))
	for i := range factors {
		factors[i] = 1
	}
	least := pattern.LineChiSquare(kept, factors) - fibreGain
	for _, pole := range pattern.PoleChoices(p) {
		for logR := -1.2; logR < 1.21; logR += 0.05 {
			f := Fibre{Pole: pole, R: math.Exp(logR)}
			for i, l := range kept {
				_, factors[i] = f.factors(p, l.Line)
			}
			if c := pattern.LineChiSquare(kept, factors); c < least {
				least, best, ok = c, f, true
			}
		}
	}
	return best, ok
}

// density returns the intensity of a line over that of a random powder for a fibre about the normal, or in the surface.
func density(l refdata.Line, cosines [][]float64, r float64, along bool) float64 {
	var value, weight float64
	for i, f := range l.Families {
		w := float64(max(1, f.Multiplicity))
		if f.F2 > 0 {
			w *= f.F2
		}
		for _, c := range cosines[i] {
			if along {
				value += w / float64(len(cosines[i])) * LongitudinalDensity(c, r)
			} else {
				value += w / float64(len(cosines[i])) * pattern.MarchDollase(c, r)
			}
		}
		weight += w
	}
	return value / weight
}
