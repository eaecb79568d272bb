package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// disagreeSigmas is the difference between two methods from which their 95 % intervals no longer overlap, for equal
// uncertainties 2 · 1.96/√2.
const disagreeSigmas = 2.8

// singleDisagrees is the least difference, wt%, of a single line that is told: within 3 wt% good powders are right at all
// (round robins, PRACTICE 1.7), and the area of one line among neighbours is less sure than its fit says.
const singleDisagrees = 3.0

// linesDisagree warns when single peaks say something else than the whole pattern.
func linesDisagree(e Evidence) []xrd.Caution {
	var off []string
	worst, multi := 0.0, 0
	var single []float64
	for i, c := range e.Amounts.Checks {
		if e.Amounts.Roles[i] != quantify.Specimen {
			continue
		}
		var says []string
		if math.Abs(c.Sigmas) > disagreeSigmas {
			says = append(says, fmt.Sprintf("%.1f wt%% by %s", c.Multi.Percent, plural(c.Lines, "free line", "free lines")))
			multi++
			worst = math.Max(worst, math.Abs(c.Sigmas))
		}
		whole := e.Amounts.Answer.Fractions[i].Weight.Percent
		if c.Lines > 1 && math.Abs(c.SingleSigmas) > disagreeSigmas && math.Abs(c.Single.Percent-whole) > singleDisagrees {
			says = append(says, fmt.Sprintf("%.1f by the strongest free line (%.2f°)", c.Single.Percent, c.TwoTheta))
			single = append(single, c.TwoTheta)
			worst = math.Max(worst, math.Abs(c.SingleSigmas))
		}
		if len(says) > 0 {
			off = append(off, fmt.Sprintf("%s %s, %.1f by the whole pattern", e.Explanation.Matches[i].Phase.Name, strings.Join(says, ", "), whole))
		}
	}
	if len(off) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "methods-disagree", Severity: xrd.SeverityCaution,
		Text:     "Single lines and the whole pattern do not agree: " + strings.Join(off, "; ") + ".",
		Remedy:   "Look at the lines of these phases in the report: texture, few grains, a missed phase or a bad background moves single lines first.",
		Evidence: map[string]any{"phases": len(off), "worst_sigmas": worst, "by_all_lines": multi, "single_two_theta": single}}}
}
