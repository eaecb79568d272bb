package report

import (
	"fmt"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// lineCheckRow sets the fraction of the whole pattern beside those of single fitted peaks, all in wt%.
type lineCheckRow struct{ Name, Whole, Multi, Lines, Single, At string }

// lineCheckRows lists the specimen's phases that could be checked, largest first.
func lineCheckRows(doc result.Document) []lineCheckRow {
	own, _ := bySize(doc)
	var out []lineCheckRow
	for _, p := range own {
		c := p.LineRIR
		if c == nil || c.Lines == 0 {
			continue
		}
		out = append(out, lineCheckRow{plain(p.Name), plots.PlusMinus(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi),
			plots.PlusMinus(c.MultiWeightPercent, c.MultiLo, c.MultiHi), fmt.Sprint(c.Lines),
			plots.PlusMinus(c.SingleWeightPercent, c.SingleLo, c.SingleHi), fixed(c.SingleTwoTheta, 2)})
	}
	return out
}

// LineCheck returns the check of the fractions by single peaks as aligned text; empty when nothing could be checked.
func LineCheck(doc result.Document) string {
	rows := [][]string{{"check by single lines", "", "whole pattern", "free lines", "strongest", "which"}}
	for _, r := range lineCheckRows(doc) {
		rows = append(rows, []string{r.Name, "", r.Whole, r.Multi + " (" + r.Lines + ")", r.Single, r.At + "°"})
	}
	if len(rows) == 1 {
		return ""
	}
	return "\n" + align(rows)
}
