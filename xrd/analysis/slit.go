package analysis

import (
	"context"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

const (
	slitLines  = 10   // lines below which no slit is fitted
	slitTry    = 12.0 // χ² of lines by which an explanation must beat none to be tried
	slitGain   = 30.0 // χ² by which lines, or else the pattern, must decide for it
	slitMargin = 9.0  // χ² of lines by which it must beat the other one
)

// slitKnown reports whether the slit, or where the beam is longer than the specimen, is stated, or plays no part.
func (p prepared) slitKnown() bool {
	return p.job.Instrument.Geometry == xrd.Transmission || p.job.Instrument.Slit.Mode != xrd.SlitUnknown || p.job.Specimen.Length > 0
}

// guessSlit returns the correction that the lines of a fit speak for, nil for none.
func guessSlit(fit *pattern.Fit) *diagnose.Slit {
	if fit.Setup.Instrument.Geometry == xrd.Transmission {
		return nil
	}
	g := quantify.GuessSlit(fit)
	if g.Lines < slitLines {
		return nil
	}
	s := &diagnose.Slit{Full: g.Full, FullU: g.FullU, Gain: g.Overspill, Lines: g.Lines}
	switch {
	case g.Automatic > slitTry && g.Automatic > g.Overspill-slitMargin && g.Full > 85: // no end of the trend is seen
		s.Automatic, s.Gain = true, g.Automatic
	case g.Automatic > slitTry && g.Automatic > g.Overspill+slitMargin:
		s.Automatic, s.Gain = true, g.Automatic
	case g.Overspill > slitTry && g.Overspill > g.Automatic+slitMargin:
	default:
		return nil
	}
	return s
}

// search identifies phases and, unless the slit stands, identifies anew with the slit that the lines of the first answer
// decide for: wrong intensities of the strong phases hide weak ones. The first answer stands where the correction does not
// fit better.
func search(ctx context.Context, job identify.Job, decided *diagnose.Slit, stands bool) (*identify.Explanation, *diagnose.Slit, error) {
	first, err := identify.Run(ctx, job)
	if err != nil || stands || len(first.Matches) == 0 {
		return first, decided, err
	}
	s := guessSlit(first.Fit)
	if s == nil {
		return first, nil, nil
	}
	applySlit(s, &job.Setup)
	second, err := identify.Run(ctx, job)
	if err != nil {
		return nil, nil, err
	}
	if len(second.Matches) == 0 || !slitHolds(s, first.Fit, second.Fit) {
		return first, nil, nil
	}
	return second, s, nil
}

// correctSlit fits again with the slit that the lines decide for; the fit as it was when they do not decide, or when that
// fits no better.
func correctSlit(ctx context.Context, fit *pattern.Fit) (*pattern.Fit, *diagnose.Slit, error) {
	s := guessSlit(fit)
	if s == nil {
		return fit, nil, nil
	}
	set := fit.Setup
	applySlit(s, &set)
	set.Poles = nil // what was taken for texture may have been the trend
	corrected, err := pattern.Run(ctx, restart(fit, set, pattern.Guess), pattern.Full)
	if err != nil {
		return nil, nil, err
	}
	if corrected, err = pattern.ReleaseTexture(ctx, corrected); err != nil {
		return nil, nil, err
	}
	if !slitHolds(s, fit, corrected) {
		return fit, nil, nil
	}
	return corrected, s, nil
}

// slitHolds reports whether a fit with the correction is better than the one without it: by anything where the lines decided,
// else clearly, in units of the misfit that is left. Lines say little where a bad fit has bent their intensities.
func slitHolds(s *diagnose.Slit, without, with *pattern.Fit) bool {
	left := misfit(with)
	gain := (misfit(without) - left) / math.Max(1, left/float64(len(with.Fitted)))
	return gain > 0 && (s.Gain > slitGain || gain > slitGain)
}

// checkSlit returns how the logarithms of the scales change with the uncertainty of a slit that was fitted; nil when none
// was, or when it has no length of its own.
func checkSlit(ctx context.Context, identified *identify.Explanation, s *diagnose.Slit) ([]float64, error) {
	if s == nil || s.Automatic || len(identified.Matches) == 0 {
		return nil, nil
	}
	fit := identified.Fit
	farther := *s
	farther.Full += farther.FullU
	set := fit.Setup
	applySlit(&farther, &set)
	moved, err := pattern.Run(ctx, restart(fit, set, pattern.FullFit), pattern.Quick)
	if err != nil {
		return nil, err
	}
	shift := make([]float64, len(fit.Scales))
	for p, scale := range fit.Scales {
		if scale > 0 && moved.Scales[p] > 0 {
			shift[p] = math.Log(moved.Scales[p] / scale)
		}
	}
	return shift, nil
}

// misfit returns Σ (y − fit)²/variance without the misfit term.
func misfit(f *pattern.Fit) (sum float64) {
	for i, y := range f.Setup.Intensity {
		d := y - f.Fitted[i]
		sum += d * d / f.Noise[i]
	}
	return sum
}
