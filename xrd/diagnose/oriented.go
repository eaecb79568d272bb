package diagnose

import (
	"fmt"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

const (
	orientedSeen    = 2   // lines of one set of planes that must be there
	orientedMissing = 4   // lines of others that should be
	orientedShare   = 0.1 // of what is expected beside the lines that are there
	orientedSigma   = 5.0
)

// Oriented returns the planes (h k l) to which nearly all lines belong that a phase shows, when its other lines are
// missing: a film, tape or plate. Only those planes lie along the surface, and their intensity says nothing of the amount.
func Oriented(lines []pattern.LineFit, p refdata.Phase) (pole [3]int, ok bool) {
	for _, pole := range [][3]int{{0, 0, 1}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}, {1, 1, 1}} {
		var seen, missing int
		var along, across [2]float64 // expected, observed
		for _, l := range lines {
			if !l.Covered || len(l.Line.Families) == 0 {
				continue
			}
			f := l.Line.Families[0]
			switch {
			case parallel([3]int{f.H, f.K, f.L}, pole, p.System):
				along[0] += l.Expected
				along[1] += l.Observed
				if l.Observed > orientedSigma*l.ObservedU {
					seen++
				}
			case l.Own() && l.Expected > orientedSigma*l.ObservedU:
				across[0] += l.Expected
				across[1] += l.Observed
				missing++
			}
		}
		if seen >= orientedSeen && missing >= orientedMissing && across[1]*along[0] < orientedShare*across[0]*along[1] {
			return pole, true
		}
	}
	return pole, false
}

// parallel reports whether planes are parallel to one of those that symmetry makes equivalent to a pole.
func parallel(h, pole [3]int, system refdata.CrystalSystem) bool {
	turns := [][3]int{{0, 1, 2}}
	switch system {
	case refdata.Cubic:
		turns = [][3]int{{0, 1, 2}, {1, 2, 0}, {2, 0, 1}, {0, 2, 1}, {2, 1, 0}, {1, 0, 2}}
	case refdata.Tetragonal, refdata.Hexagonal:
		turns = [][3]int{{0, 1, 2}, {1, 0, 2}}
	}
	for i, v := range h {
		h[i] = max(v, -v)
	}
	for _, t := range turns {
		q := [3]int{pole[t[0]], pole[t[1]], pole[t[2]]}
		if h[0]*q[1] == h[1]*q[0] && h[0]*q[2] == h[2]*q[0] && h[1]*q[2] == h[2]*q[1] {
			return true
		}
	}
	return false
}

// epitaxial refuses fractions where a phase shows one set of planes only.
func epitaxial(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	for i, pole := range e.Amounts.Planes {
		if pole == nil || e.Amounts.Roles[i] == quantify.Absent {
			continue
		}
		p := e.Explanation.Matches[i].Phase
		planes := strings.Trim(fmt.Sprint(*pole), "[]")
		out = append(out, xrd.Caution{Code: "epitaxial", Severity: xrd.SeverityStop,
			Text:     fmt.Sprintf("Of %s hardly more than the lines of the planes (%s) is seen: its grains lie alike, as in a film or a tape. Intensities then say nothing of amounts; fractions are withheld.", p.Name, planes),
			Remedy:   "Measure the amount another way, or crush it to a powder" + dust(e.specimenPhases()...) + ".",
			Evidence: map[string]any{"phase": p.ID, "planes": planes}})
	}
	return out
}
