package diagnose

import (
	"fmt"

	"phasetally/xrd"
)

// noCandidates says that the filter has left nothing to try.
func noCandidates(e Evidence) []xrd.Caution {
	n := e.Facts.References
	if e.Facts.Named || e.Explanation.Tried != e.Explanation.Watched || len(e.Explanation.Matches) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "no-candidates", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("None of the %d phases of the reference data has only the elements that were allowed; %s tried.", n, plural(e.Explanation.Watched, "phase of the preparation watch-list was", "phases of the preparation watch-list were")),
		Remedy: "Give more elements with --elements, leave --strict-elements out, or add reference data with --library.", Evidence: map[string]any{"phases": n, "tried": e.Explanation.Tried}}}
}

// searchStopped says that the search did not come to its own end.
func searchStopped(e Evidence) []xrd.Caution {
	n := e.Explanation.Stopped
	if n == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "search-stopped", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("The search was stopped after %d fits, which took the work that a search may: what is left was not asked for further, and not all names were held against other phases that may explain their lines.", n),
		Remedy: "Give the elements of the specimen (--elements), leave out what cannot be there (--exclude), or name its phases (quantify --phase).", Evidence: map[string]any{"fits": n}}}
}
