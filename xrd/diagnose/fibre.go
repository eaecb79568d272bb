package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// inWords says what a section would show: the lines that change most.
func inWords(s *result.Sections, of func(result.SectionLine) float64) string {
	lines := slices.Clone(s.Lines)
	change := func(l result.SectionLine) float64 { return math.Abs(math.Log(of(l))) }
	slices.SortStableFunc(lines, func(a, b result.SectionLine) int { return cmp.Compare(change(b), change(a)) })
	var parts []string
	for _, l := range lines[:min(3, len(lines))] {
		parts = append(parts, fmt.Sprintf("%d %d %d × %.2f", l.H, l.K, l.L, of(l)))
	}
	return strings.Join(parts, ", ")
}

// fibreWords says what the sections of a textured piece would show, for the caution about texture.
func fibreWords(e Evidence, s *result.Sections) string {
	if s == nil {
		return ""
	}
	along, across := inWords(s, func(l result.SectionLine) float64 { return l.Longitudinal }), inWords(s, func(l result.SectionLine) float64 { return l.Transverse })
	if e.Facts.Specimen.Section == "longitudinal" {
		return fmt.Sprintf(" If it is a fibre along the axis of the piece, a transverse section would show %s.", across)
	}
	return fmt.Sprintf(" If the surface lies across the axis of the piece, a longitudinal section would show %s.", along)
}

// wireWords says when the lines of a phase are those of a drawn wire in the stated section.
func wireWords(e Evidence, i int) string {
	section := e.Facts.Specimen.Section
	if section != "transverse" && section != "longitudinal" {
		return ""
	}
	m := e.Explanation.Matches[i]
	w, ok := quantify.DrawnWire(m.Phase, m.Lines, section == "longitudinal")
	if !ok {
		return ""
	}
	shows := map[string][2]string{ // PRACTICE 1.1
		"face-centred cubic":     {"111 and 200 strong, 220 and 311 weak", "220 strong, 111 weak"},
		"body-centred cubic":     {"110 strong, 200 and 211 weak", "all lines present"},
		"hexagonal close-packed": {"the basal lines weak", "the basal lines strong"},
	}[w.Lattice]
	words := shows[0]
	if section == "longitudinal" {
		words = shows[1]
	}
	return fmt.Sprintf(" Drawn %s wire shows these lines in a %s section (fibre %s along its axis: %s).", w.Lattice, section, w.Fibre, words)
}

// fibre tells a fibre in the surface, which no pole along the normal describes.
func fibre(e Evidence, i int) []xrd.Caution {
	p := e.Document.Phases[e.place(i)]
	if p.Sections == nil || len(p.Texture) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "texture", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("Lines of %s are those of a fibre in the surface: planes (%d %d %d) about the axis of the piece (March–Dollase r = %.2f). The model does not allow for it; the fraction is less sure.%s",
			p.Name, p.Sections.Pole[0], p.Sections.Pole[1], p.Sections.Pole[2], p.Sections.R, fibreWords(e, p.Sections)+wireWords(e, i)),
		Remedy:   "Scan a transverse section, too, and give both with --same-specimen; or crush or file to a powder" + dust(e.specimenPhases()...) + ".",
		Evidence: map[string]any{"phase": p.ID, "r": p.Sections.R}}}
}
