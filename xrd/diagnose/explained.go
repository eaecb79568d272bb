package diagnose

import (
	"fmt"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// explained judges the phases as a whole.
func explained(e Evidence) []xrd.Caution {
	x := e.Document.Explanation
	if x == nil || x.Verdict == result.Complete || x.ExplainedShare == nil {
		return nil
	}
	evidence := map[string]any{"explained_share": *x.ExplainedShare, "peaks": len(x.LeftOverPeaks)}
	share := result.ShareText(*x.ExplainedShare) + " of the peak area"
	left := plural(len(x.LeftOverPeaks), "peak is", "peaks are")
	if x.Verdict == result.None {
		text := fmt.Sprintf("The scan is not explained: the phases account for %s, and %s left. No fractions are given; the phases are candidates.", share, left)
		if len(e.Document.Phases) == 0 {
			text = fmt.Sprintf("The scan is not explained: no phase is found, and %s left.", left)
		}
		return []xrd.Caution{{Code: "not-explained", Severity: xrd.SeverityStop,
			Text:     text,
			Remedy:   Needed(*x) + e.suspects(),
			Evidence: evidence}}
	}
	text := fmt.Sprintf("The scan is explained in part: the phases account for %s, and %s left.", share, left)
	if len(x.LeftOverPeaks) == 0 {
		text = fmt.Sprintf("The scan is explained in part: the phases account for %s.", share)
	}
	remedy := Needed(*x) + e.suspects()
	if names := doubted(e); names != "" {
		evidence["doubted_phases"] = x.DoubtedPhases
		text = strings.TrimSuffix(text, ".") + fmt.Sprintf("; some of it only by %s, which may stand in for a phase that is not in the reference data.", names)
		remedy += " See the reasons of " + names + "; elemental analysis decides between a phase, its solid solutions and others of its type."
	}
	return []xrd.Caution{{Code: "partly-explained", Severity: xrd.SeverityCaution,
		Text:     text + " Fractions are of what was recognised; their lower ends allow for the rest.",
		Remedy:   remedy,
		Evidence: evidence}}
}

// suspects names what was given beside the scan and may be wrong itself.
func (e Evidence) suspects() string {
	var flags []string
	if e.Facts.Instrument.Tube != "" {
		flags = append(flags, "--instrument")
	}
	if e.Facts.Blank {
		flags = append(flags, "--blank")
	}
	if len(flags) == 0 {
		return ""
	}
	return " Try it without " + listed(flags) + ", too."
}

// doubted returns the names of phases that account for peaks although their names do not hold.
func doubted(e Evidence) string {
	var names []string
	for _, p := range e.Document.Phases {
		if slices.Contains(e.Document.Explanation.DoubtedPhases, p.ID) {
			names = append(names, p.Name)
		}
	}
	return listed(names)
}

// Needed says what would explain more of a scan.
func Needed(x result.Explanation) string {
	if x.SingleWavelength {
		return "Give both wavelengths with --radiation " + x.Radiation + "."
	}
	if x.Radiation != "" {
		return "Check the tube and give it with --radiation " + x.Radiation + "."
	}
	var words string
	if r := x.Rest; r != nil {
		words = restWords(*r) + " "
	}
	if r := x.RestElement; r != nil {
		words += fmt.Sprintf("One element that you did not give would explain %d of the %d: %s, by %s. ", r.Peaks, r.Of, r.Symbol, listed(r.Phases))
	}
	return words + needed
}

const needed = "Check the tube, give the elements of the specimen, name further phases, or add reference data that hold them with --library."

// restWords says which phase would explain most of what is left.
func restWords(r result.Rest) string {
	text := fmt.Sprintf("One phase would explain %d of the %d peaks that are left: %s", r.Peaks, r.Of, r.Name)
	if len(r.Elements) > 0 {
		return text + "; you gave no " + strings.Join(r.Elements, ", ") + "."
	}
	return text + ", but too little else speaks for it."
}

// tubeContradicted says that the same phases explain far more with another tube.
func tubeContradicted(e Evidence) []xrd.Caution {
	t := e.Decided.Tube
	if t == nil {
		return nil
	}
	if t.Halved {
		return []xrd.Caution{{Code: "radiation-doubtful", Severity: xrd.SeverityStop,
			Text:     fmt.Sprintf("One wavelength, %s Å, was stated, but the scan shows Kα1 and Kα2 of %s apart: every line was fitted in a wrong shape. No fractions are given.", e.Facts.Radiation.Text(), t.Name),
			Remedy:   Needed(*e.Document.Explanation),
			Evidence: map[string]any{"radiation": t.Name}}}
	}
	return []xrd.Caution{{Code: "radiation-doubtful", Severity: xrd.SeverityStop,
		Text:     fmt.Sprintf("The scan contradicts its tube: with %s Kα %.0f %% of the peak area are explained, with %s Kα %.0f %%. No fractions are given.", e.Facts.Radiation.Name, 100*share(e), t.Name, 100*t.Share),
		Remedy:   "Check the tube and give it with --radiation " + t.Name + ".",
		Evidence: map[string]any{"radiation": t.Name, "explained_share": t.Share}}}
}

// share returns the explained share, 0 when it is not known.
func share(e Evidence) float64 {
	if x := e.Document.Explanation; x != nil && x.ExplainedShare != nil {
		return *x.ExplainedShare
	}
	return 0
}

// standardContradicted says that amounts by a standard cannot be.
func standardContradicted(e Evidence) []xrd.Caution {
	if e.Amounts.Impossible == "" {
		return nil
	}
	return []xrd.Caution{{Code: "standard-contradicted", Severity: xrd.SeverityStop,
		Text:     "The scan contradicts the standard: " + e.Amounts.Impossible + ". No absolute fractions and no amorphous part are given.",
		Remedy:   "Check the weighing, that --spike or the external standard names what was used, its crystallinity, and microabsorption.",
		Evidence: map[string]any{}}}
}
