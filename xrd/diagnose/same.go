package diagnose

import (
	"fmt"

	"phasetally/xrd"
)

// disagreeP is the probability of chance below which scans of one specimen count as different.
const disagreeP = 0.01

// otherSpecimen is the relative standard deviation of amounts from which scans that disagree are of different specimens. Origin: reasoning:
// texture and few grains change amounts by some ten per cent, not by half.
const otherSpecimen = 0.5

// scansDisagree says when scans of one specimen contradict each other.
func scansDisagree(e Evidence) []xrd.Caution {
	a := e.Amounts.Answer.Repeats
	if a == nil || a.P >= disagreeP {
		return nil
	}
	severity, one := xrd.SeverityCaution, "The intervals allow for it."
	if a.Between > otherSpecimen {
		severity, one = xrd.SeverityStop, "They are hardly of one specimen, and the fractions are of none."
	}
	return []xrd.Caution{{Code: "scans-disagree", Severity: severity,
		Text:     fmt.Sprintf("The scans of the specimen differ by more than counting and the scatter of lines explain (χ² = %.1f for %d degrees of freedom); amounts vary by %.1f %% between them. %s", a.ChiSquare, a.Freedom, 100*a.Between, one),
		Remedy:   "Look at each scan alone: few grains, texture of another kind, or pieces that differ. More scans or a powder make the answer firmer.",
		Evidence: map[string]any{"chi_square": a.ChiSquare, "freedom": a.Freedom, "p": a.P, "between_relative": a.Between}}}
}
