package plots

import (
	"cmp"
	"hash/fnv"
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// Slots returns, parallel to the phases of a document, the number of each phase's colour and fill pattern. A run over
// many scans states the order of its phases in each result, so that a phase looks the same in all of them; phases
// beyond that order follow it. From Colours on a phase has no colour of its own.
func Slots(doc result.Document) []int {
	order := slices.Clone(doc.PhaseOrder)
	for _, p := range doc.Phases {
		if slotOf(order, p.ID) < 0 {
			order = append(order, p.ID)
		}
	}
	colours, out := Colouring(order), make([]int, len(doc.Phases))
	for i, p := range doc.Phases {
		out[i] = colours[slotOf(order, p.ID)]
	}
	return out
}

// seed begins every check sum; with this one the phases of the demo scans, copper and common powders all wish for different colours.
const seed = "34790"

// Colouring gives the first phases of an order, by their ids, a colour each and the others none. The colour follows from
// the id, so that a phase looks the same in the result of a scan and in a series; where two want the same one, that
// with the greater check sum takes the next that is free.
func Colouring(order []string) []int {
	out := make([]int, len(order))
	var byWish []int
	wish := make([]uint32, len(order))
	for i, id := range order {
		out[i] = i // beyond the colours
		sum := fnv.New32a()
		sum.Write([]byte(seed + strings.ToLower(id))) // never fails
		if wish[i] = sum.Sum32(); i < Colours {
			byWish = append(byWish, i)
		}
	}
	slices.SortStableFunc(byWish, func(a, b int) int { return cmp.Compare(wish[a], wish[b]) })
	var taken [Colours]bool
	for _, i := range byWish {
		slot := int(wish[i] % Colours)
		for taken[slot] {
			slot = (slot + 1) % Colours
		}
		taken[slot], out[i] = true, slot
	}
	return out
}

// slotOf returns the place of an id in an order; −1 when it has none.
func slotOf(order []string, id string) int {
	return slices.IndexFunc(order, func(s string) bool { return strings.EqualFold(s, id) })
}
