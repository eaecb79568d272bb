package plots

import (
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// Slots returns, parallel to the phases of a document, the number of each phase's colour and fill pattern. A run over
// many scans states the order of its phases in each result, so that a phase looks the same in all of them; phases
// beyond that order follow it. From Colours on a phase has no colour of its own.
func Slots(doc result.Document) []int {
	out := make([]int, len(doc.Phases))
	next := len(doc.PhaseOrder)
	for i, p := range doc.Phases {
		out[i] = slotOf(doc.PhaseOrder, p.ID)
		if out[i] < 0 {
			out[i] = next
			next++
		}
	}
	return out
}

// slotOf returns the place of an id in an order; −1 when it has none.
func slotOf(order []string, id string) int {
	return slices.IndexFunc(order, func(s string) bool { return strings.EqualFold(s, id) })
}
