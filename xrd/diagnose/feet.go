package diagnose

import (
	"fmt"
	"math"

	"phasetally/xrd"
)

// broadFeet warns when a broader profile lies under the lines of a phase: part of it is so fine that its lines pass for background.
func broadFeet(e Evidence, i int) []xrd.Caution {
	if i >= len(e.Amounts.Answer.Feet) {
		return nil
	}
	foot := e.Amounts.Answer.Feet[i]
	if !(foot.Sigmas > 0) {
		return nil
	}
	amount := "its fraction may be too low, and the interval reaches further."
	if w := e.Amounts.Answer.Fractions[i].Weight.Percent; !math.IsNaN(foot.Percent) && w < 100 {
		amount = fmt.Sprintf("with all of that it would be %.3g wt%% in the place of %.3g, and the intervals hold both.", foot.Percent, w)
	}
	return []xrd.Caution{{Code: "broad-feet", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("Under the lines of %s lie broader ones, %.0f standard uncertainties above nothing, as crystallites of about %.0f nm beside larger ones make them: %s",
			e.Explanation.Matches[i].Phase.Name, foot.Sigmas, foot.Size, amount),
		Remedy:   "Look at the feet of its lines in the figure. Lines of so fine a part are hard to tell from background and glass: coarsen it by annealing, or add a weighed standard, which shows what is missing.",
		Evidence: map[string]any{"phase": e.Explanation.Matches[i].Phase.ID, "sigmas": foot.Sigmas, "size_nm": foot.Size}}}
}
