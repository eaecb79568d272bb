package diagnose

import (
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
)

// twins says which fractions are of two phases together.
func twins(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, t := range e.Decided.Twins {
		k := slices.IndexFunc(e.Explanation.Matches, func(m identify.Match) bool { return m.Phase.ID == t.Of })
		if k < 0 {
			continue
		}
		own := e.Explanation.Matches[k].Phase
		evidence := map[string]any{"phases": []string{own.ID, t.Phase.ID}}
		text := fmt.Sprintf("%s and %s cannot be told apart: they have the same lines in this scan. What is given for %s is both together", own.Name, t.Phase.Name, own.Name)
		if w := e.Amounts.Answer.Fractions[k].Weight; !math.IsNaN(w.Percent) {
			evidence["sum_weight_percent"] = w.Percent
			text += fmt.Sprintf(", %.1f wt%%", w.Percent)
			if other := otherwise(e, k, t.Phase.RIR.Value); math.Abs(other-w.Percent) > 0.05 {
				text += fmt.Sprintf(" (%.1f wt%% if all of it were %s)", other, t.Phase.Name)
				evidence["sum_if_other_weight_percent"] = other
			}
		}
		out = append(out, xrd.Caution{Code: "same-lines", Severity: xrd.SeverityCaution, Text: text + ".",
			Remedy: "Use the sum, or decide by elemental analysis, a wider scan or another tube.", Evidence: evidence})
	}
	return out
}

// eitherOrBoth says of a phase that was searched for that another one of the stated elements has its lines, too: nothing tells that only
// one of them is there, and intensities of the same lines give the sum alone.
func eitherOrBoth(e Evidence) []xrd.Caution {
	if e.Facts.Named || e.Facts.Elements.Len() == 0 {
		return nil
	}
	var out []xrd.Caution
	for k, m := range e.Explanation.Matches {
		if len(m.Alternatives) == 0 || e.Amounts.Roles[k] != quantify.Specimen {
			continue
		}
		names, ids := []string{}, []string{m.Phase.ID}
		for _, a := range m.Alternatives {
			names, ids = append(names, a.Name), append(ids, a.ID)
		}
		evidence := map[string]any{"phases": ids}
		text := fmt.Sprintf("The lines of %s are also those of %s in this scan, and the stated elements allow each of them alone or together", m.Phase.Name, listed(names))
		if w := e.Amounts.Answer.Fractions[k].Weight; !math.IsNaN(w.Percent) {
			evidence["sum_weight_percent"] = w.Percent
			text += fmt.Sprintf(": the interval of %s is that of the sum, and of %s itself there may be less", m.Phase.Name, m.Phase.Name)
		}
		out = append(out, xrd.Caution{Code: "same-lines", Severity: xrd.SeverityCaution, Text: text + ".",
			Remedy: "Use the sum, or decide by elemental analysis, a wider scan or another tube.", Evidence: evidence})
	}
	return out
}

// otherwise returns the wt% of match k were its reference intensity ratio another; as it is when that is not known.
func otherwise(e Evidence, k int, rir float64) float64 {
	f := e.Amounts.Answer.Fractions[k].Weight.Percent / 100
	x := f / (1 - f) * e.Explanation.Matches[k].Phase.RIR.Value / rir
	if !(rir > 0) || f >= 1 {
		return 100 * f
	}
	return 100 * x / (1 + x)
}
