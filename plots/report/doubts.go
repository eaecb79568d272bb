package report

import (
	"fmt"
	"math"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// speaking are reasons that speak for a phase or merely count.
var speaking = map[string]bool{"significance": true, "own-lines": true, "merit-m": true, "merit-f": true, "strongest-seen": true, "same-substance": true}

// enoughPeaks of its own speak for a phase; fewer, against it.
const enoughPeaks = 3

// against are the reasons that keep a phase from being called established.
func against(p result.Phase) []string {
	var out []string
	for _, r := range p.Reasons {
		if !speaking[r.Code] && !(r.Code == "own-peaks" && r.Value != nil && *r.Value >= enoughPeaks) {
			out = append(out, plain(r.Text))
		}
	}
	return out
}

// Doubts says of each phase that is less than established why, a line each; empty when there is none.
func Doubts(doc result.Document) string {
	var b strings.Builder
	for _, p := range doc.Phases {
		why := against(p)
		if p.Evidence != result.Probable && p.Evidence != result.Tentative || len(why) == 0 {
			continue
		}
		fmt.Fprintf(&b, "%s is only %s: %s.\n", plain(p.Name), plain(string(p.Evidence)), strings.Join(why, "; "))
	}
	if b.Len() == 0 {
		return ""
	}
	return "\n" + b.String()
}

// Coarse gives the fractions for grains much larger than the depth of absorption, of the phases for which they lie outside
// the 95 % interval; empty when
// there is none, and for a section, whose table has both limits.
func Coarse(doc result.Document) string {
	var parts []string
	own, _ := bySize(doc)
	for _, p := range own {
		c := p.CoarseLimitWeightPercent
		if c == nil || p.FineLimitWeightPercent != nil || p.WeightPercentLo == nil || p.WeightPercentHi == nil || math.IsNaN(*c) || *c >= *p.WeightPercentLo && *c <= *p.WeightPercentHi {
			continue
		}
		parts = append(parts, plain(p.Name)+" "+plots.Fixed(*c, plots.Decimals(p.WeightPercentLo, p.WeightPercentHi)))
	}
	if len(parts) == 0 {
		return ""
	}
	return "\nIf the grains are much larger than the depth of absorption (coarse limit, wt%): " + list(parts) + ".\n"
}
