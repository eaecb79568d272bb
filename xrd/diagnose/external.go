package diagnose

import (
	"cmp"
	"fmt"

	"phasetally/xrd"
)

// externalStandard says on what an external standard rests, or why it gave nothing.
func externalStandard(e Evidence) []xrd.Caution {
	if e.Facts.External == nil || e.Facts.Spike != nil || e.Amounts.Impossible != "" {
		return nil
	}
	if e.Amounts.Answer.Amorphous == nil {
		without := e.Amounts.Without
		if without.Why == "" {
			without.Why = "the absorption of a phase or a reference intensity ratio is not known"
		}
		return []xrd.Caution{{Code: "external-standard", Severity: xrd.SeverityStop, Text: "The external standard gives no absolute fractions: " + without.Why + ".",
			Remedy: cmp.Or(without.Remedy, "State the chemistry of everything that was scanned, oxygen too, with --composition."), Evidence: map[string]any{}}}
	}
	return []xrd.Caution{{Code: "external-standard", Severity: xrd.SeverityNote,
		Text: fmt.Sprintf("Absolute fractions rest on K = %.0f ± %.0f counts·°·cm²/g and a mass attenuation of %.1f ± %.1f cm²/g (standard uncertainties).%s",
			e.Amounts.Constant.K, e.Amounts.Constant.U, e.Amounts.Answer.Attenuation, e.Amounts.Answer.AttenuationU, sameTime(e)),
		Remedy:   "Scan standard and specimen in one session with the same slits, voltage and current; both thicker than the beam reaches and longer than the beam at every angle.",
		Evidence: map[string]any{"k_factor": e.Amounts.Constant.K, "k_factor_u": e.Amounts.Constant.U, "mass_attenuation": e.Amounts.Answer.Attenuation}}}
}

// sameTime says that counting times were taken to be equal, when they are not known.
func sameTime(e Evidence) string {
	if e.Facts.External.Given || e.Facts.External.TimeKnown {
		return ""
	}
	return " The counting time was taken to be that of the standard."
}

// standardMissing reports a spike that the scan does not show.
func standardMissing(e Evidence) []xrd.Caution {
	s := e.Facts.Spike
	if s == nil || e.Amounts.Answer.Amorphous != nil || e.Amounts.Impossible != "" || e.Amounts.NoHump != nil || len(e.Amounts.Answer.Withheld) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "standard-missing", Severity: xrd.SeverityStop,
		Text:     fmt.Sprintf("The standard %s was not found in the scan: no absolute fractions and no amorphous part can be given.", s.ID),
		Remedy:   "Check that the spiked powder was scanned, that --spike names what was added, and that its strong lines lie in the range.",
		Evidence: map[string]any{"id": s.ID, "weight_percent": s.WeightPercent}}}
}
