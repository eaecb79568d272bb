package analysis

import (
	"cmp"
	"fmt"
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

const (
	toldLines = 8    // strongest lines of a fibre that are told
	toldLeast = 0.02 // of the strongest
)

// fibreOf works out what other sections of the piece would show of member i: from its fitted texture when the surface lies
// across the axis of the piece, or nothing is said of it, from its lines when it lies along it.
func (r *run) fibreOf(i int) (quantify.Fibre, bool) {
	m := r.outcome.Members[i]
	longitudinal := r.job.Specimen.Section == "longitudinal"
	pole, coefficient := [3]int{}, 1.0
	for _, q := range r.outcome.Fit.Parameters {
		if q.Phase == i && q.Free && q.Kind == pattern.TextureLogR && math.Abs(q.Value) > math.Abs(math.Log(coefficient)) {
			pole, coefficient = q.Pole, math.Exp(q.Value)
		}
	}
	if r.job.Specimen.Section == "powder" || !longitudinal && math.Abs(coefficient-1) < texturedR {
		return quantify.Fibre{}, false
	}
	return quantify.FibreOf(m.Phase, m.Lines, pole, coefficient, longitudinal)
}

// sections describes a fibre for the document; nil for none.
func (r *run) sections(i int) *result.Sections {
	f, ok := r.fibreOf(i)
	if !ok {
		return nil
	}
	slices.SortStableFunc(f.Lines, func(a, b quantify.FibreLine) int { return cmp.Compare(b.Expected, a.Expected) })
	out := &result.Sections{Pole: f.Pole, R: f.R, Lines: []result.SectionLine{}}
	for _, l := range f.Lines[:min(toldLines, len(f.Lines))] {
		if l.Expected > toldLeast*f.Lines[0].Expected {
			out.Lines = append(out.Lines, result.SectionLine{H: l.H, K: l.K, L: l.L, Transverse: l.Transverse, Longitudinal: l.Longitudinal})
		}
	}
	return out
}

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
func (r *run) fibreWords(s *result.Sections) string {
	if s == nil {
		return ""
	}
	along, across := inWords(s, func(l result.SectionLine) float64 { return l.Longitudinal }), inWords(s, func(l result.SectionLine) float64 { return l.Transverse })
	if r.job.Specimen.Section == "longitudinal" {
		return fmt.Sprintf(" If it is a fibre along the axis of the piece, a transverse section would show %s.", across)
	}
	return fmt.Sprintf(" If the surface lies across the axis of the piece, a longitudinal section would show %s.", along)
}

// fibreCaution tells a fibre in the surface, which no pole along the normal describes.
func (r *run) fibreCaution(i int) []xrd.Caution {
	p := r.doc.Phases[r.place(i)]
	if p.Sections == nil || len(p.Texture) > 0 {
		return nil
	}
	return []xrd.Caution{{Code: "texture", Severity: xrd.Warn,
		Text: fmt.Sprintf("Lines of %s are those of a fibre in the surface: planes (%d %d %d) about the axis of the piece (March–Dollase r = %.2f). The model does not allow for it; the fraction is less sure.%s",
			p.Name, p.Sections.Pole[0], p.Sections.Pole[1], p.Sections.Pole[2], p.Sections.R, r.fibreWords(p.Sections)),
		Remedy:   "Scan a transverse section, too, and give both with --same-specimen; or crush or file to a powder.",
		Evidence: map[string]any{"phase": p.ID, "r": p.Sections.R}}}
}
