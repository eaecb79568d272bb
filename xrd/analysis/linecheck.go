package analysis

import (
	"fmt"
	"math"
	"phasetally/xrd/result"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// disagreeSigmas is the difference between two methods from which their 95 % intervals no longer overlap, for equal
// uncertainties 2 · 1.96/√2.
const disagreeSigmas = 2.8

// compareLines sets the fractions beside those of single fitted peaks.
func (r *run) compareLines() {
	if len(r.roles) > 0 {
		r.checks = quantify.CheckLines(r.input, r.answer, r.found.Peaks)
	}
}

// lineRIR describes the check of member i; nil when there is none.
func (r *run) lineRIR(i int) *result.LineRIR {
	if r.checks == nil || r.roles[i] != quantify.Specimen {
		return nil
	}
	c := r.checks[i]
	out := &result.LineRIR{Lines: c.Lines, MultiWeightPercent: number(c.Multi.Percent), MultiLo: number(c.Multi.Lo), MultiHi: number(c.Multi.Hi), Sigmas: c.Sigmas}
	if c.Lines > 0 {
		out.SingleTwoTheta = number(c.TwoTheta)
		out.SingleWeightPercent, out.SingleLo, out.SingleHi = number(c.Single.Percent), number(c.Single.Lo), number(c.Single.Hi)
	}
	return out
}

// lineCautions warns when single peaks say something else than the whole pattern.
func (r *run) lineCautions() []xrd.Caution {
	var off []string
	worst := 0.0
	for i, c := range r.checks {
		if r.roles[i] == quantify.Specimen && math.Abs(c.Sigmas) > disagreeSigmas {
			off = append(off, fmt.Sprintf("%s %.1f wt%% by %s, %.1f by the whole pattern", r.outcome.Members[i].Phase.Name, c.Multi.Percent,
				plural(c.Lines, "free line", "free lines"), r.answer.Fractions[i].Weight.Percent))
			worst = math.Max(worst, math.Abs(c.Sigmas))
		}
	}
	if len(off) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "methods-disagree", Severity: xrd.Warn,
		Text:     "Single lines and the whole pattern do not agree: " + strings.Join(off, "; ") + ".",
		Remedy:   "Look at the lines of these phases in the report: texture, few grains, a missed phase or a bad background moves single lines first.",
		Evidence: map[string]any{"phases": len(off), "worst_sigmas": worst}}}
}
