package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// pointsPerParameter is the least number of points for each parameter of a fit that means something (common practice).
const pointsPerParameter = 5

// undetermined says what the scan does not settle: phases without a line in the range, parameters that the data
// leave open, and a model that has hardly fewer parameters than the scan has points.
func undetermined(e Evidence) []xrd.Caution {
	fit := e.Explanation.Fit
	var out []xrd.Caution
	add := func(text, remedy string, evidence map[string]any) {
		out = append(out, xrd.Caution{Code: "undetermined", Severity: xrd.SeverityCaution, Text: text, Remedy: remedy, Evidence: evidence})
	}
	var unseen []string
	for i, p := range fit.Setup.Phases {
		if math.IsInf(fit.ZeroU[i], 0) {
			unseen = append(unseen, p.Name)
		}
	}
	if len(unseen) > 0 {
		add("No line of "+strings.Join(unseen, ", ")+" lies in the range: the scan says nothing of it.",
			"Scan a range that holds its strong lines.", map[string]any{"phases": unseen})
	}
	if open := openParameters(e); len(open) > 0 {
		add("The data do not determine "+strings.Join(open, ", ")+".",
			"Name fewer phases, widen the range, or give an instrument file.", map[string]any{"parameters": open})
	}
	if n, k := len(fit.Fitted), countParameters(fit); n < pointsPerParameter*k {
		add(fmt.Sprintf("The fit has %d parameters for %d points: more than the scan supports.", k, n),
			"Name fewer phases or scan a wider range.", map[string]any{"parameters": k, "points": n})
	}
	return out
}

// openParameters returns the names of the parameters that the data do not determine, without the scales of phases that
// have no line in the range.
func openParameters(e Evidence) []string {
	var out []string
	for _, name := range e.Explanation.Fit.Undetermined {
		scale := false
		for i := range e.Explanation.Fit.Setup.Phases {
			scale = scale || math.IsInf(e.Explanation.Fit.ZeroU[i], 0) && name == e.Explanation.Fit.ScaleName(i)
		}
		if !scale {
			out = append(out, name)
		}
	}
	return out
}

// countParameters counts what a fit varied: scales, background, blank and the parameters that were free.
func countParameters(f *pattern.Fit) int {
	n := len(f.Scales) + f.Knots + 3
	if f.Setup.Blank != nil {
		n++
	}
	for _, p := range f.Parameters {
		if p.Free {
			n++
		}
	}
	return n
}
