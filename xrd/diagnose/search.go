package diagnose

import (
	"fmt"
	"math"

	"phasetally/xrd"
)

// betterRadiation names a tube with which the scan would be explained far better.
func betterRadiation(e Evidence) []xrd.Caution {
	b := e.Outcome.Radiation
	if b == nil || e.Facts.Named {
		return nil
	}
	severity, consequence := xrd.Warn, ""
	if e.Decided.Tube != nil {
		severity, consequence = xrd.Refuse, " No fractions are given."
	}
	return []xrd.Caution{{Code: "radiation-doubtful", Severity: severity,
		Text:   fmt.Sprintf("Little is explained with %s Kα; %s Kα explains %s.%s", e.Facts.Radiation.Name, b.Name, times(b.Gain), consequence),
		Remedy: "Check the tube and give it with --radiation " + b.Name + ".", Evidence: map[string]any{"radiation": b.Name, "gain_ratio": b.Gain}}}
}

// noCandidates says that the filter has left nothing to try.
func noCandidates(e Evidence) []xrd.Caution {
	n := e.Facts.References
	if e.Facts.Named || e.Outcome.Tried != e.Outcome.Watched || len(e.Outcome.Members) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "no-candidates", Severity: xrd.Warn,
		Text:   fmt.Sprintf("None of the %d phases of the reference data has only the elements that were allowed; %s of the preparation watch-list tried.", n, plural(e.Outcome.Watched, "phase was", "phases were")),
		Remedy: "Give more elements with --elements, leave --strict-elements out, or add reference data with --library.", Evidence: map[string]any{"phases": n, "tried": e.Outcome.Tried}}}
}

func times(ratio float64) string {
	if math.IsInf(ratio, 0) || ratio > 100 {
		return "more than 100 times as much"
	}
	return fmt.Sprintf("%.1f times as much", ratio)
}
