package diagnose

import (
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// hugeGrains warns of grains that are too large for a correction.
func hugeGrains(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for i, d := range e.Amounts.Grain {
		p := e.Explanation.Matches[i].Phase
		if quantify.ClassOfGrain(p.MuLinear(), d) != quantify.HugeGrains {
			continue
		}
		out = append(out, xrd.Caution{Code: "microabsorption", Severity: xrd.SeverityStop,
			Text:   fmt.Sprintf("Grains of %s are so large (μD = %.1f) that the correction for absorption in them no longer holds; the fractions may lie beyond the limit of coarse grains.", p.Name, p.MuLinear()*d*1e-4),
			Remedy: "Grind finer" + dust(p) + ", or use image analysis.", Evidence: map[string]any{"phase": p.ID, "mu_d": p.MuLinear() * d * 1e-4}})
	}
	return out
}
