package diagnose

import (
	"fmt"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// alike names pairs of phases whose scales the scan does not tell apart, with their sum, which it does.
func alike(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for _, pair := range quantify.Alike(e.Explanation.Fit) {
		a, b := pair.Phases[0], pair.Phases[1]
		names := [2]string{e.Explanation.Matches[a].Phase.Name, e.Explanation.Matches[b].Phase.Name}
		text := fmt.Sprintf("%s and %s have nearly the same lines (ρ = %.3f): the scan hardly tells how much is which.", names[0], names[1], pair.Rho)
		evidence := map[string]any{"phases": []string{e.Explanation.Matches[a].Phase.ID, e.Explanation.Matches[b].Phase.ID}, "rho": pair.Rho}
		if sum, u := sumOf(e, a, b); !math.IsNaN(sum) {
			text += fmt.Sprintf(" Together they are %.1f ± %.1f wt%% of the crystalline part.", sum, 2*u)
			evidence["sum_weight_percent"], evidence["sum_u_weight_percent"] = sum, u
		}
		out = append(out, xrd.Caution{Code: "same-lines", Severity: xrd.SeverityCaution, Text: text,
			Remedy: "Use the sum, leave one of them out, or decide by elemental analysis, a wider scan or another tube.", Evidence: evidence})
	}
	return out
}

// sumOf returns the fraction of two phases together, with its standard uncertainty.
func sumOf(e Evidence, a, b int) (sum, u float64) {
	for _, i := range []int{a, b} {
		if e.Amounts.Roles[i] == quantify.Specimen {
			sum += e.Amounts.Answer.Fractions[i].Weight.Percent
		}
	}
	c := e.Amounts.Answer.Covariance
	return sum, math.Sqrt(math.Max(0, c[a][a]+c[b][b]+2*c[a][b]))
}
