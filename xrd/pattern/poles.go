package pattern

import (
	"cmp"
	"slices"

	"phasetally/refdata"
)

// PoleChoices returns the texture axes that are tried for a phase.
func PoleChoices(p refdata.Phase) [][3]int { return poleChoices(p) }

// poleChoices returns the texture axes worth trying for a phase: low-index planes that grains grow, cleave or are drawn along
// (common practice), and the densest planes of its lattice, on which grains have their faces and cleave: those of the largest
// spacing that reflect, glide planes and screw axes counted (law of Bravais, Friedel, Donnay & Harker, Am. Mineral. 22 (1937)
// 446, from memory). So the carbonates have their rhombohedron 104. In cubic lattices the usual ones are these.
func poleChoices(p refdata.Phase) [][3]int {
	out := usualPoles(p.System)
	if p.System == refdata.Cubic || p.Cell == nil {
		return out
	}
	lines := slices.Clone(p.Lines)
	slices.SortStableFunc(lines, func(a, b refdata.Line) int { return cmp.Compare(b.D, a.D) })
	rotations := laueGroup(p)
	for _, l := range lines[:min(denseFaces, len(lines))] {
		if len(l.Families) == 0 {
			continue
		}
		f := l.Families[0]
		n := gcd(gcd(f.H, f.K), f.L)
		if n == 0 {
			continue
		}
		pole := [3]int{f.H / n, f.K / n, f.L / n}
		if !slices.ContainsFunc(out, func(q [3]int) bool { return equivalent(rotations, pole, q) }) {
			out = append(out, pole)
		}
	}
	return out
}

// denseFaces is how many spacings are looked at for faces: crystals show a few forms only (common practice).
const denseFaces = 4

// usualPoles returns the axes of a crystal system.
func usualPoles(s refdata.CrystalSystem) [][3]int {
	switch s {
	case refdata.Cubic:
		return [][3]int{{1, 1, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Hexagonal, refdata.Tetragonal:
		return [][3]int{{0, 0, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Rhombohedral:
		return [][3]int{{1, 1, 1}, {1, 0, 0}, {1, 1, 0}}
	case refdata.Monoclinic:
		return [][3]int{{0, 0, 1}, {0, 1, 0}, {1, 0, 0}, {1, 1, 0}}
	}
	return [][3]int{{0, 0, 1}, {0, 1, 0}, {1, 0, 0}}
}

// equivalent reports whether symmetry takes planes a to planes b.
func equivalent(rotations [][9]int, a, b [3]int) bool {
	return slices.ContainsFunc(rotations, func(r [9]int) bool {
		h := applied(r, a)
		return h == b || h == [3]int{-b[0], -b[1], -b[2]}
	})
}

// gcd returns the greatest common divisor, not negative.
func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}
