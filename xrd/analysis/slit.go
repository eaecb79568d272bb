package analysis

import (
	"context"
	"fmt"
	"math"

	"phasetally/xrd"
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

// fittedSlit is a correction of intensities that the data decided.
type fittedSlit struct {
	automatic bool
	full      float64 // degrees 2θ, of a beam longer than the specimen
	fullU     float64 // its standard uncertainty
	gain      float64
	lines     int
}

// apply adds the correction to a setup.
func (s *fittedSlit) apply(set *pattern.Setup) {
	switch {
	case s == nil:
	case s.automatic:
		set.Instrument.Slit = xrd.Slit{Mode: xrd.SlitAutomatic}
	default: // only R α/l matters: a slit of 1° and the length that goes with it
		set.Instrument.Slit = xrd.Slit{Mode: xrd.SlitFixed, Value: 1}
		set.Specimen.Length = set.Instrument.Radius * xrd.Radians(1) / math.Sin(xrd.Radians(s.full)/2)
	}
}

// guessSlit returns the correction that the lines of a fit speak for when neither slit nor length is stated, nil for none.
func (r *run) guessSlit(fit *pattern.Fit) *fittedSlit {
	if r.job.Instrument.Slit.Mode != xrd.SlitUnknown || r.job.Specimen.Length > 0 || r.optics != nil || r.slitStands {
		return nil
	}
	g := quantify.GuessSlit(fit)
	if g.Lines < slitLines {
		return nil
	}
	s := &fittedSlit{full: g.Full, fullU: g.FullU, gain: g.Overspill, lines: g.Lines}
	switch {
	case g.Automatic > slitTry && g.Automatic > g.Overspill-slitMargin && g.Full > 85: // no end of the trend is seen
		s.automatic, s.gain = true, g.Automatic
	case g.Automatic > slitTry && g.Automatic > g.Overspill+slitMargin:
		s.automatic, s.gain = true, g.Automatic
	case g.Overspill > slitTry && g.Overspill > g.Automatic+slitMargin:
	default:
		return nil
	}
	return s
}

// identifyCorrected identifies anew with the slit that the lines of a first answer decide for: wrong intensities of the
// strong phases hide weak ones. The first answer stands where the correction does not fit better.
func (r *run) identifyCorrected(ctx context.Context, job identify.Job, first *identify.Outcome) (*identify.Outcome, error) {
	if len(first.Members) == 0 {
		return first, nil
	}
	s := r.guessSlit(first.Fit)
	if s == nil {
		return first, nil
	}
	s.apply(&job.Setup)
	second, err := identify.Run(ctx, job)
	if err != nil {
		return nil, err
	}
	if len(second.Members) == 0 || !s.holds(first.Fit, second.Fit) {
		return first, nil
	}
	r.optics = s
	return second, nil
}

// correctSlit fits again with the slit that the lines decide for; the fit as it was when they do not decide, or when that
// fits no better.
func (r *run) correctSlit(ctx context.Context, fit *pattern.Fit) (*pattern.Fit, error) {
	s := r.guessSlit(fit)
	if s == nil {
		return fit, nil
	}
	set := fit.Setup
	s.apply(&set)
	set.Poles = nil // what was taken for texture may have been the trend
	set.Start = pattern.Start{Values: fit.Values(), Kappa: fit.Kappa, Knots: fit.Knots}
	g2, err := pattern.Run(ctx, set, pattern.Full)
	if err != nil {
		return nil, err
	}
	if g2, err = pattern.ReleaseTexture(ctx, g2); err != nil {
		return nil, err
	}
	if !s.holds(fit, g2) {
		return fit, nil
	}
	r.optics = s
	return g2, nil
}

// holds reports whether a fit with the correction is better than the one without it: by anything where the lines decided,
// else clearly, in units of the misfit that is left. Lines say little where a bad fit has bent their intensities.
func (s *fittedSlit) holds(without, with *pattern.Fit) bool {
	left := misfit(with)
	gain := (misfit(without) - left) / math.Max(1, left/float64(len(with.Fitted)))
	return gain > 0 && (s.gain > slitGain || gain > slitGain)
}

// doubtSlit finds how the scales change with the uncertainty of what was fitted.
func (r *run) doubtSlit(ctx context.Context) error {
	r.opticsShift = nil
	if r.optics == nil || r.optics.automatic || len(r.outcome.Members) == 0 {
		return nil
	}
	fit := r.outcome.Fit
	farther := *r.optics
	farther.full += farther.fullU
	set := fit.Setup
	farther.apply(&set)
	set.Start = pattern.Start{Values: fit.Values(), Kappa: fit.Kappa, Knots: fit.Knots, From: pattern.FullFit}
	moved, err := pattern.Run(ctx, set, pattern.Quick)
	if err != nil {
		return err
	}
	r.opticsShift = make([]float64, len(fit.Scales))
	for p, scale := range fit.Scales {
		if scale > 0 && moved.Scales[p] > 0 {
			r.opticsShift[p] = math.Log(moved.Scales[p] / scale)
		}
	}
	return nil
}

// misfit returns Σ (y − fit)²/variance without the misfit term.
func misfit(f *pattern.Fit) (sum float64) {
	for i, y := range f.Setup.Intensity {
		d := y - f.Fitted[i]
		sum += d * d / f.Noise[i]
	}
	return sum
}

// caution says what was corrected.
func (s *fittedSlit) caution() []xrd.Caution {
	evidence := map[string]any{"chi_square_gain": s.gain, "lines": s.lines}
	if s.automatic {
		return []xrd.Caution{{Code: "slit-mode", Severity: xrd.Warn,
			Text:   "Intensities of all phases go as sin θ, as with an automatic divergence slit. They were corrected for it.",
			Remedy: "State the divergence slit with --slit automatic:MM, or --slit fixed:DEGREES if it was not automatic.", Evidence: evidence}}
	}
	evidence["full_above_two_theta"] = s.full
	return []xrd.Caution{{Code: "beam-overspill", Severity: xrd.Warn,
		Text:   fmt.Sprintf("Below about %.0f° lines of all phases grow weaker towards low angles, as when the beam is longer than the specimen. Intensities were corrected for it.", s.full),
		Remedy: "State --slit and --specimen-length, use a narrower slit or a longer piece, or leave low angles out with --range.", Evidence: evidence}}
}
