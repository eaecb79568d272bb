package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// notConverged says that the fit did not come to an end.
func notConverged(e Evidence) []xrd.Caution {
	if e.Explanation.Fit.Status == leastsq.Converged {
		return nil
	}
	status := StatusNames[e.Explanation.Fit.Status]
	return []xrd.Caution{{Code: "fit-not-converged", Severity: xrd.SeverityStop, Text: "The fit of the whole pattern ended early (" + status + "); numbers are provisional.",
		Remedy: "Name the phases with --phase, narrow the range with --range, or give an instrument file.", Evidence: map[string]any{"status": status}}}
}

// StatusNames are the words for how a fit ended.
var StatusNames = map[leastsq.Status]string{
	leastsq.NotRun: "not run", leastsq.Converged: result.Converged, leastsq.IterationLimit: "iteration limit",
	leastsq.EvaluationLimit: "evaluation limit", leastsq.Cancelled: "cancelled", leastsq.Stuck: "stuck",
}

// displacedMM is the height of the surface, mm, that should be mended (PRACTICE 2: 0.1 mm).
const displacedMM = 0.1

// displaced says that the surface lay off the focusing plane.
func displaced(e Evidence) []xrd.Caution {
	d, ok := e.Explanation.Fit.Get(pattern.Displacement, -1)
	if !ok || !e.held() || e.Facts.Instrument.Geometry == xrd.Transmission || !(math.Abs(d.Value) > displacedMM) || !(math.Abs(d.Value) > 3*d.U) {
		return nil
	}
	return []xrd.Caution{{Code: "displaced", Severity: xrd.SeverityNote,
		Text:   fmt.Sprintf("The surface lay %s mm %s the focusing plane (if the radius is %.0f mm); lines were shifted back.", coefficient(math.Abs(d.Value), 2*d.U), side(d.Value), e.Facts.Instrument.Radius),
		Remedy: "Level the mount flush with the holder; an internal standard tells height from lattice change.", Evidence: map[string]any{"displacement_mm": d.Value, "u_mm": d.U}}}
}

// held reports whether lines of a phase hold the angle scale: one whose name holds, in a scan that is explained at least in part.
func (e Evidence) held() bool {
	if x := e.Document.Explanation; x != nil && x.Verdict == result.None {
		return false
	}
	return slices.ContainsFunc(e.Explanation.Matches, func(m identify.Match) bool {
		return m.Evidence == result.Established || m.Evidence == result.Probable
	})
}

// side says on which side of the focusing plane a surface lies.
func side(displacement float64) string {
	if displacement < 0 {
		return "above"
	}
	return "below"
}

// correlated says that zero and displacement cannot be told apart.
func correlated(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, c := range e.Explanation.Fit.Correlated {
		if strings.Contains(c.A+c.B, "zero") && strings.Contains(c.A+c.B, "displacement") {
			out = append(out, xrd.Caution{Code: "zero-displacement-correlated", Severity: xrd.SeverityCaution,
				Text:   fmt.Sprintf("Zero and displacement cannot be told apart in this range (ρ = %.3f).", c.Rho),
				Remedy: "Fix the zero with an instrument file from a standard.", Evidence: map[string]any{"rho": c.Rho}})
		}
	}
	return out
}

// unexplained counts the peaks that no phase explains.
func unexplained(e Evidence) []xrd.Caution {
	left := e.Document.UnexplainedPeaks
	if len(left) == 0 {
		return nil
	}
	u := left[0]
	for _, x := range left {
		if x.Significance > u.Significance {
			u = x
		}
	}
	return []xrd.Caution{{Code: "unexplained-peaks", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("%s left unexplained; the clearest is at %.2f° (d = %.4f Å).", plural(len(left), "peak is", "peaks are"), u.TwoTheta, u.D),
		Remedy: "Give more elements or a larger library; see unexplained_peaks for what has a strong line there.", Evidence: map[string]any{"peaks": len(left), "two_theta": u.TwoTheta}}}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
