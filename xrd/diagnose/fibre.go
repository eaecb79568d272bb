package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
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

// fibre tells a fibre in the surface, which no pole along the normal describes.
func fibre(e Evidence, i int) []xrd.Caution {
	p := e.Document.Phases[e.place(i)]
	if p.Sections == nil || len(p.Texture) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "texture", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("Lines of %s are those of a fibre in the surface: planes (%d %d %d) about the axis of the piece (March–Dollase r = %.2f). The model does not allow for it; the fraction is less sure.%s",
			p.Name, p.Sections.Pole[0], p.Sections.Pole[1], p.Sections.Pole[2], p.Sections.R, fibreWords(e, p.Sections)),
		Remedy:   "Scan a transverse section, too, and give both with --same-specimen; or crush or file to a powder" + dust(e.specimenPhases()...) + ".",
		Evidence: map[string]any{"phase": p.ID, "r": p.Sections.R}}}
}
