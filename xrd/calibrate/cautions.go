package calibrate

import (
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// caution collects what may mislead. Cautions of the scan come first.
func (r *run) caution() {
	r.Cautions = append(r.Cautions, r.found.Cautions...)
	add := func(code string, severity xrd.Severity, text, remedy string, evidence map[string]any) {
		r.Cautions = append(r.Cautions, xrd.Caution{Code: code, Severity: severity, Text: text, Remedy: remedy, Evidence: evidence})
	}
	if r.Job.RadiationAssumed {
		add("radiation-assumed", xrd.SeverityCaution, "The scan does not say its radiation; "+r.Radiation.Name+" Kα was assumed.",
			"State it with --radiation.", map[string]any{"radiation": r.Radiation.Name})
	}
	if r.Status != leastsq.Converged {
		add("fit-not-converged", xrd.SeverityStop, "The fit did not converge; its numbers must not be used.", "Check the standard, the range and the counts.", nil)
	}
	if r.Misfit > lost {
		add("fit-not-converged", xrd.SeverityStop, fmt.Sprintf("The fit does not follow the lines (points lie off by %.0f %%); its numbers must not be used.", 100*r.Misfit),
			"Check the standard and the radiation; leave spoiled parts out with --range.", map[string]any{"misfit": r.Misfit})
	}
	if !r.Separated {
		add("zero-displacement-correlated", xrd.SeverityNote, r.separation(), "Scan to higher angles to tell them apart; lines in this range need only the sum.",
			map[string]any{"rho": r.Correlation})
	}
	if d := r.Displacement; math.Abs(d.Value) > 0.1 && d.Lo*d.Hi > 0 {
		add("displaced", xrd.SeverityNote, fmt.Sprintf("The standard lay %.3f ± %.3f mm %s the focusing plane.", math.Abs(d.Value), normal95*d.U, side(d.Value)),
			"Level it anew if the diffractometer's alignment is to be judged.", map[string]any{"displacement_mm": d.Value})
	}
	if other, at := r.foreignPeak(); other > foreignShare {
		add("unexplained-peaks", xrd.SeverityCaution, fmt.Sprintf("A peak at %.3f° of %.0f %% of the strongest does not belong to the standard.", at, 100*other),
			"Use a pure standard, or leave the peak out with --range.", map[string]any{"two_theta": at})
	}
	if len(r.Lines) < 6 {
		add("few-lines", xrd.SeverityCaution, fmt.Sprintf("Only %d lines stand alone; widths between them are a guess.", len(r.Lines)),
			"Scan a wider range.", map[string]any{"lines": len(r.Lines)})
	}
}

// Usable reports whether the instrument may be used: the fit converged and no caution forbids it.
func (r Result) Usable() bool {
	return r.Status == leastsq.Converged && !slices.ContainsFunc(r.Cautions, func(c xrd.Caution) bool { return c.Severity == xrd.SeverityStop })
}

// hopeless is the correlation beyond which zero and displacement are said not to be separated.
const hopeless = 0.995

// separation says in words how far zero and displacement are told apart.
func (r *run) separation() string {
	verdict := "each is known no better than its interval; their sum is known to"
	if math.Abs(r.Correlation) > hopeless {
		verdict = "this range cannot separate them; their sum is known to"
	}
	return fmt.Sprintf("Over %.4g–%.4g° zero and displacement shift lines almost alike (ρ = %.3f): %s ±%.4f° or better.",
		r.Range[0], r.Range[1], r.Correlation, verdict, normal95*r.MaxShiftU)
}

// foreignShare is the area of a peak, over that of the strongest, from which it spoils a calibration.
const foreignShare = 0.02

// foreignPeak returns the largest peak that lies at no line of the standard.
func (r *run) foreignPeak() (share, at float64) {
	strongest, most := 0.0, 0.0
	for _, p := range r.found.Peaks {
		strongest = math.Max(strongest, p.Area)
		if p.Kind == peaks.KAlpha && p.Area > most && !r.belongs(p) {
			most, at = p.Area, p.TwoTheta
		}
	}
	return most / strongest, at
}

func (r *run) belongs(p peaks.Peak) bool {
	for _, q := range r.phases {
		line := q.Lines[0]
		shift := r.at(line.TwoTheta).Shift
		if math.Abs(line.TwoTheta+shift-p.TwoTheta) < math.Max(nearLine, 2*p.FWHM) {
			return true
		}
	}
	return slices.ContainsFunc(r.pairs, func(m pair) bool { return r.found.Peaks[m.peak] == p })
}

func side(displacement float64) string {
	if displacement > 0 {
		return "below"
	}
	return "above"
}
