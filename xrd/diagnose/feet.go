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

// angleTrend warns when the intensities of all phases change with the angle in a way that is not that of their structures.
func angleTrend(e Evidence) []xrd.Caution {
	trend := e.Amounts.Answer.Trend
	if trend == nil {
		return nil
	}
	side, way, remedy := "below", "too weak at low angles, as a rough or porous surface or a beam longer than the specimen makes them",
		"Press the surface flat and smooth, state slit and length of the specimen (--slit, --specimen-length), or leave the lowest angles out (--range)."
	if trend.Value > 0 {
		side, way, remedy = "above", "too weak at high angles, as in a specimen that the beam goes through, with a monochromator that was not stated, or when warm",
			"Use more powder, and state the monochromator (--monochromator) and the geometry of the scan (--geometry)."
	}
	return []xrd.Caution{{Code: "angle-trend", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("The lines of all phases are %s: their displacement parameters end %.2f ± %.2f Å² %s those of the structures, together.%s",
			way, math.Abs(trend.Value), trend.U, side, withoutTrend(e)),
		Remedy: remedy, Evidence: map[string]any{"delta_b": trend.Value, "delta_b_u": trend.U}}}
}

// withoutTrend tells the fraction that a trend moves most.
func withoutTrend(e Evidence) string {
	a := e.Amounts.Answer
	most, moved := -1, 0.0
	for i, w := range a.Trend.Percent {
		if d := math.Abs(w - a.Fractions[i].Weight.Percent); d > moved {
			most, moved = i, d
		}
	}
	if most < 0 {
		return ""
	}
	return fmt.Sprintf(" Without that %s would be %.3g wt%% in the place of %.3g; the intervals hold both.", e.Explanation.Matches[most].Phase.Name,
		a.Trend.Percent[most], a.Fractions[most].Weight.Percent)
}
