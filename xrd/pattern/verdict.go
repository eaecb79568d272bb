package pattern

import (
	"math"

	"phasetally/xrd/result"
)

// Thresholds of the verdicts on single lines (common practice but where said).
const (
	// OwnShare is the share of a line's phase in what all phases put under it from which the line is the phase's own.
	OwnShare = 0.6
	// SeenSigma is how many standard uncertainties, misfit counted, a line stands above nothing to be seen.
	SeenSigma = 3.0
	// TestedSigma is the fitted intensity, in standard uncertainties, from which a line must be seen.
	TestedSigma = 4.0

	seenShare    = 0.3  // of its fitted intensity that a line must have to be seen
	missingShare = 0.25 // of its fitted intensity below which a line that must be seen is missing
)

// Own reports whether the scan covers a line and it stands clear of the other phases.
func (l LineFit) Own() bool { return l.Covered && l.Clear >= OwnShare }

// Seen reports whether the scan shows the line, its own or not: beyond chance and misfit, and with a fair part of what was fitted.
func (l LineFit) Seen() bool {
	return l.Covered && l.Observed >= SeenSigma*l.MisfitU && l.Observed > seenShare*l.Fitted
}

// Tested reports whether the line is strong enough that it must be seen.
func (l LineFit) Tested() bool {
	return l.Covered && l.MisfitU > 0 && l.Fitted >= TestedSigma*l.MisfitU
}

// Missing reports whether a line of the phase's own must be seen and is not.
func (l LineFit) Missing() bool {
	return l.Own() && l.Tested() && l.Observed < missingShare*l.Fitted && l.Fitted-l.Observed > SeenSigma*l.MisfitU
}

// Verdict says in one word what the line tells of its phase.
func (l LineFit) Verdict() result.LineVerdict {
	switch {
	case !l.Covered:
		return result.LineOutside
	case l.Diffuse:
		return result.LineDiffuse
	case !l.Own():
		return result.LineOverlapped
	case l.Missing():
		return result.LineMissing
	case l.MisfitU > 0 && l.Seen():
		return result.LineSeen
	}
	return result.LineWeak
}

// NoiseAt returns the variance of point number i as the fit has it, without misfit and without the extra variance of points
// whose intensity is known to be unexplained.
func (f *Fit) NoiseAt(i int) float64 {
	if f.Setup.ExtraVariance == nil {
		return f.Noise[i]
	}
	return f.Noise[i] - f.Setup.ExtraVariance[i]
}

// Restart returns starting values for a fit that goes on from this one: its parameters, misfit and background intervals, as good
// as their source says.
func (f *Fit) Restart(from Source) Start {
	return Start{Values: f.Values(), Kappa: f.Kappa, Knots: f.Knots, From: from}
}

// Likeness returns the cosine between two patterns over the same points, 1 for patterns that differ by a scale only: how much
// of one can stand for the other. The variance of each point weighs it; nil weighs all alike. It is 0 where a pattern is empty.
func Likeness(a, b, variance []float64) float64 {
	var aa, ab, bb float64
	for i, u := range a {
		w := 1.0
		if variance != nil {
			w = 1 / variance[i]
		}
		aa += w * u * u
		ab += w * u * b[i]
		bb += w * b[i] * b[i]
	}
	if !(aa*bb > 0) {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}
