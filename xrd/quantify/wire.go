package quantify

import (
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// A Wire is the texture that drawing gives a metal, as lines of one cut show it.
type Wire struct {
	Lattice string  // "face-centred cubic", "body-centred cubic", "hexagonal close-packed"
	Fibre   string  // what gathers along the axis
	Share   float64 // of the phase
}

// A wireKind is one of the textures of drawn wires (PRACTICE 1.1; Barrett & Massalski, Structure of Metals, from memory): of
// face-centred metals ⟨111⟩ and ⟨100⟩ together, of body-centred ones ⟨110⟩, of close-packed hexagonal ones ⟨10-10⟩, the basal planes
// along the axis. Across the axis, 111 and 200 of a face-centred wire are then strong, 220 and 311 weak; in a cut along it 220
// is strong and 111 weak. Of a body-centred one only 110 is strong across the axis, while along it all are present.
type wireKind struct {
	lattice, fibre string
	poles          [][3]int // one, or two that share the crystals
}

// wireOf returns the texture of a drawn wire of a phase; false for other lattices than those of the metals.
func wireOf(p refdata.Phase) (wireKind, bool) {
	group := strings.ReplaceAll(p.SpaceGroup, " ", "")
	switch {
	case strings.HasPrefix(group, "Fm-3m"):
		return wireKind{"face-centred cubic", "⟨111⟩ with ⟨100⟩", [][3]int{{1, 1, 1}, {1, 0, 0}}}, true
	case strings.HasPrefix(group, "Im-3m"):
		return wireKind{"body-centred cubic", "⟨110⟩", [][3]int{{1, 1, 0}}}, true
	case strings.HasPrefix(group, "P63/mmc") && p.Cell != nil && p.Cell.C > hexagonalLeast*p.Cell.A && p.Cell.C < hexagonalMost*p.Cell.A:
		return wireKind{"hexagonal close-packed", "⟨10-10⟩", [][3]int{{1, 0, 0}}}, true
	}
	return wireKind{}, false
}

// The axial ratios of hexagonal close-packed metals: 1.57 (Be) to 1.89 (Cd).
const hexagonalLeast, hexagonalMost = 1.5, 1.95

// DrawnWire reports whether the lines of a phase in one cut are those of a drawn wire, better than those of any other single
// axis and of none.
func DrawnWire(p refdata.Phase, lines []pattern.LineFit, along bool) (Wire, bool) {
	kind, ok := wireOf(p)
	kept := strongest(telling(lines), linesAsked)
	if !ok || p.Cell == nil || len(kept) < fibreLines {
		return Wire{}, false
	}
	random := pattern.LineChiSquare(kept, nil)
	best := Wire{Lattice: kind.lattice, Fibre: kind.fibre}
	least, other := math.Inf(1), math.Inf(1)
	factors := make([]float64, len(kept))
	for logR := -1.2; logR < 1.21; logR += 0.05 {
		table := map[[3]int][]float64{}
		for _, pole := range pattern.PoleChoices(p) {
			for _, l := range kept {
				table[pole] = append(table[pole], density(l.Line, pattern.PoleCosines(p, l.Line, pole), math.Exp(logR), along))
			}
			if !kind.has(pole) || logR > 0 {
				other = min(other, pattern.LineChiSquare(kept, table[pole]))
			}
		}
		if logR > 0 {
			continue
		}
		for share := 1.0; share >= 0; share -= 0.125 {
			for i := range factors {
				factors[i] = share*table[kind.poles[0]][i] + (1-share)*table[kind.poles[len(kind.poles)-1]][i]
			}
			if chi2 := pattern.LineChiSquare(kept, factors); chi2 < least {
				least, best.Share = chi2, share
			}
		}
	}
	return best, random-least > fibreGain && least < other
}

func (k wireKind) has(pole [3]int) bool {
	return slices.Contains(k.poles, pole)
}
