package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

const (
	// fibreSigma is the standard deviation of ln r of March and Dollase's coefficient that pieces which were drawn, rolled or
	// grown are given beforehand: coefficients of 0.5 to 1 are ordinary (common practice).
	fibreSigma = 0.35
	fibreReach = 3 // standard deviations that are looked at
	fibreSteps = 6 // in each of them on either side
	linesAsked = 12
)

// hiddenTexture returns, for each phase of a section, the relative standard uncertainty of its amount that a fibre texture makes
// which the scans do not show. Every axis of pattern.PoleChoices with every coefficient is a possibility; the chance of each is
// that beforehand times exp(−χ²/2) of the phase's own lines in all scans, and under each the amount would be another one, by
// the mean over the scans. A scan with many lines leaves little open; one with a single line leaves what is so beforehand; and
// a section along the axis shows the more of a set of planes the less one across it does, so that two cuts leave less than one.
// Phases whose texture a fit has found are left to the uncertainty of that fit.
func (p *problem) hiddenTexture() []float64 {
	out := make([]float64, len(p.Roles))
	for k, phase := range p.Fit.Setup.Phases {
		if p.Roles[k] != Specimen || phase.Cell == nil || !(p.amounts[k] > 0) {
			continue
		}
		var cuts []cutLines
		refined := false
		for _, s := range p.scans {
			if own := indexOf(s.Fit, phase.ID); own >= 0 && s.Fit.Scales[own] > 0 {
				refined = refined || s.Fit.Setup.Poles != nil && len(s.Fit.Setup.Poles[own]) > 0
				cuts = append(cuts, newCutLines(s.Fit.Lines(own), s.Along))
			}
		}
		if !refined {
			out[k] = fibreShift(phase, cuts)
		}
	}
	return out
}

// cutLines are lines of a phase in one cut.
type cutLines struct {
	lines   []pattern.LineFit
	telling bool // their intensities may be compared
	along   bool // the axis lies in the surface
}

// newCutLines chooses lines that tell of texture, the strongest first; without any, all that make up the amount.
func newCutLines(lines []pattern.LineFit, along bool) cutLines {
	c := cutLines{telling(lines), true, along}
	if len(c.lines) == 0 {
		c.telling = false
		for _, l := range lines {
			if l.Covered && l.Expected > 0 && len(l.Line.Families) > 0 {
				c.lines = append(c.lines, l)
			}
		}
	}
	c.lines = strongest(c.lines, linesAsked)
	return c
}

// strongest returns the n lines of the highest expected intensity.
func strongest(lines []pattern.LineFit, n int) []pattern.LineFit {
	out := append([]pattern.LineFit(nil), lines...)
	for i := 0; i < min(n, len(out)); i++ {
		best := i
		for j := i + 1; j < len(out); j++ {
			if out[j].Expected > out[best].Expected {
				best = j
			}
		}
		out[i], out[best] = out[best], out[i]
	}
	return out[:min(n, len(out))]
}

// fibreShift returns the standard deviation of the logarithm of an amount over all fibres that the lines of some cuts allow.
func fibreShift(phase refdata.Phase, cuts []cutLines) float64 {
	var chi2s, shifts, weights []float64
	least := math.Inf(1)
	for _, pole := range pattern.PoleChoices(phase) {
		cosines := make([][][][]float64, len(cuts))
		for i, c := range cuts {
			for _, l := range c.lines {
				cosines[i] = append(cosines[i], pattern.PoleCosines(phase, l.Line, pole))
			}
		}
		for step := -fibreReach * fibreSteps; step <= fibreReach*fibreSteps; step++ {
			z := float64(step) / fibreSteps
			var chi2, shift, n float64
			for i, c := range cuts {
				if ln, x := c.under(math.Exp(fibreSigma*z), cosines[i]); !math.IsNaN(ln) {
					shift += ln
					chi2 += x
					n++
				}
			}
			if n == 0 {
				return 0
			}
			chi2s, shifts, weights = append(chi2s, chi2), append(shifts, shift/n), append(weights, math.Exp(-z*z/2))
			least = min(least, chi2)
		}
	}
	var sum, square float64
	for i, x := range chi2s {
		w := weights[i] * math.Exp((least-x)/2)
		sum += w
		square += w * shifts[i] * shifts[i]
	}
	return math.Sqrt(square / sum)
}

// under returns by how much the logarithm of the scale changes when a texture of coefficient r is allowed for, and χ² of the
// lines at the new one; NaN without lines.
func (c cutLines) under(r float64, cosines [][][]float64) (ln, chi2 float64) {
	factors := make([]float64, len(c.lines))
	var before, after, all [2]float64 // Σ w o e, Σ w e²
	for i, l := range c.lines {
		factors[i] = density(l.Line, cosines[i], r, c.along)
		o, u := l.Observed, l.ObservedU
		if !c.telling {
			o, u = l.Expected, 0
		}
		u = math.Hypot(u, shownScatter*math.Max(l.Expected, o))
		e := factors[i] * l.Expected
		before[0], before[1] = before[0]+o*l.Expected/(u*u), before[1]+l.Expected*l.Expected/(u*u)
		after[0], after[1] = after[0]+o*e/(u*u), after[1]+e*e/(u*u)
		all[0] += o * o / (u * u)
	}
	ln = math.Log(after[0] / after[1] * before[1] / before[0])
	if math.IsNaN(ln) || math.IsInf(ln, 0) {
		return math.NaN(), 0
	}
	if c.telling {
		chi2 = all[0] - after[0]*after[0]/after[1]
	}
	return ln, chi2
}

// shownScatter is the relative scatter of lines that needs no texture: structure, grains, profile (common practice, as in the
// search for axes).
const shownScatter = 0.03
