package diagnose

import (
	"fmt"

	"phasetally/xrd"
)

// disagreeP is the probability of chance below which scans of one specimen count as different.
const disagreeP = 0.01

// scansDisagree says when scans of one specimen contradict each other.
func scansDisagree(e Evidence) []xrd.Caution {
	a := e.Amounts.Answer.Repeats
	if a == nil || a.P >= disagreeP {
		return nil
	}
	return []xrd.Caution{{Code: "scans-disagree", Severity: xrd.SeverityCaution,
		Text:     fmt.Sprintf("The scans of the specimen differ by more than counting and the scatter of lines explain (χ² = %.1f for %d degrees of freedom); amounts vary by %.1f %% between them. The intervals allow for it.", a.ChiSquare, a.Freedom, 100*a.Between),
		Remedy:   "Look at each scan alone: few grains, texture of another kind, or pieces that differ. More scans or a powder make the answer firmer.",
		Evidence: map[string]any{"chi_square": a.ChiSquare, "freedom": a.Freedom, "p": a.P, "between_relative": a.Between}}}
}
