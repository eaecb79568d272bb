package diagnose

import (
	"fmt"
	"strings"

	"phasetally/xrd"
)

// factorsElsewhere warns of factors that were fitted under other conditions than those of the scan.
func factorsElsewhere(e Evidence) []xrd.Caution {
	f := e.Document.Factors
	if f == nil || len(f.Differences) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "factors-elsewhere", Severity: xrd.SeverityCaution,
		Text:     "The factors of " + f.File + " were fitted to other conditions than those of this scan: " + strings.Join(f.Differences, "; ") + ". What texture, optics and grains do to intensities may differ.",
		Remedy:   "Weigh and scan a mixture as this specimen was, or state what is the same with the flags of both commands; otherwise leave --factors out.",
		Evidence: map[string]any{"file": f.File, "differences": f.Differences}}}
}

// factorsPartial says which phases have no factor: beside those that have one, their own ratio counts.
func factorsPartial(e Evidence) []xrd.Caution {
	f := e.Document.Factors
	if f == nil || len(f.Without) == 0 {
		return nil
	}
	text := fmt.Sprintf("No factor is known for %s; against phases with factors the reference intensity ratios count as they are.", strings.Join(f.Without, ", "))
	if len(f.Phases) == 0 {
		text = "The factors of " + f.File + " have none of the phases of this scan, so that they change nothing."
	}
	return []xrd.Caution{{Code: "factors-partial", Severity: xrd.SeverityNote, Text: text,
		Remedy: "Weigh a mixture with these phases in it and fit the factors anew.", Evidence: map[string]any{"phases": f.Without}}}
}
