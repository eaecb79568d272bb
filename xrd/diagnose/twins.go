package diagnose

import (
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/identify"
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

// otherwise returns the wt% of match k were its reference intensity ratio another; as it is when that is not known.
func otherwise(e Evidence, k int, rir float64) float64 {
	f := e.Amounts.Answer.Fractions[k].Weight.Percent / 100
	x := f / (1 - f) * e.Explanation.Matches[k].Phase.RIR.Value / rir
	if !(rir > 0) || f >= 1 {
		return 100 * f
	}
	return 100 * x / (1 + x)
}
