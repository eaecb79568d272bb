package diagnose

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

const (
	// Textured is |r − 1| of a March–Dollase coefficient that matters (common practice).
	Textured = 0.10
	// texturedSigmas is how significant it must be: the axis is the best of some twenty, so that 3 σ come by chance in one scan of
	// twenty and 4 σ in one of a thousand.
	texturedSigmas = 4.0
	grainScatter   = 0.20 // relative scatter of lines after texture that means few grains (common practice)
	cellChange     = 5e-3 // relative change of an edge that means a solid solution (PRACTICE 2)
	fewOwnLines    = 3
	minorityLines  = 4
)

// ofReference passes on what the reference data say of a phase, with its name.
func ofReference(e Evidence, i int) []xrd.Caution {
	p := e.Explanation.Matches[i].Phase
	out := slices.Clone(p.Cautions)
	for k := range out {
		c := &out[k]
		if c.Evidence = maps.Clone(c.Evidence); c.Evidence == nil {
			c.Evidence = map[string]any{}
		}
		if _, named := c.Evidence["phase"]; !named {
			c.Text, c.Evidence["phase"] = fmt.Sprintf("Reference data of %s: %s", p.Name, c.Text), p.ID
		}
	}
	return out
}

// textured tells a texture that the model has allowed for.
func textured(e Evidence, i int) []xrd.Caution {
	var out []xrd.Caution
	p := e.Document.Phases[e.place(i)]
	for _, t := range p.Texture {
		if math.Abs(t.R-1) > Textured && math.Abs(t.R-1) > texturedSigmas*t.RU {
			out = append(out, xrd.Caution{Code: "texture", Severity: xrd.SeverityCaution,
				Text:   fmt.Sprintf("%s is textured: planes (%d %d %d) lie %s the surface (March–Dollase r = %s). The model allows for it; the fraction is less sure.%s", p.Name, t.Pole[0], t.Pole[1], t.Pole[2], lies(t.R), coefficient(t.R, 2*t.RU), fibreWords(e, p.Sections)+wireWords(e, i)),
				Remedy: e.lessTexture(), Evidence: map[string]any{"phase": p.ID, "r": t.R}})
		}
	}
	return out
}

// lessTexture advises what shows a textured specimen without its texture, or in two views.
func (e Evidence) lessTexture() string {
	if e.Facts.Specimen.Section == "powder" {
		return "Load the powder from the side or the back, mix in a filler of round grains, or spray-dry it; pressing a flat surface is what turns plates and needles."
	}
	return "Scan a second section at right angles (--same-specimen), or crush or file to a powder" + dust(e.specimenPhases()...) + "."
}

// coefficient prints March and Dollase's coefficient with an uncertainty that is not 0.
func coefficient(r, u float64) string {
	if u < 0.005 {
		return fmt.Sprintf("%.3f ± %.3f", r, math.Max(u, 0.001))
	}
	return fmt.Sprintf("%.2f ± %.2f", r, u)
}

// coarseGrain tells lines that scatter more than counting explains.
func coarseGrain(e Evidence, i int) []xrd.Caution {
	m := e.Explanation.Matches[i]
	scatter, lines := pattern.IntensityScatter(m.Lines)
	if lines < minorityLines || !(scatter > grainScatter) {
		return nil
	}
	return []xrd.Caution{{Code: "coarse-grain", Severity: xrd.SeverityCaution,
		Text:   fmt.Sprintf("Intensities of %s scatter by %.0f %% about its reference beyond counting: few grains, or a texture of another kind.", m.Phase.Name, 100*scatter),
		Remedy: e.morePoles(), Evidence: map[string]any{"phase": m.Phase.ID, "relative_scatter": scatter}}}
}

// fewLines tells a phase that rests on next to nothing.
func fewLines(e Evidence, i int) []xrd.Caution {
	m := e.Explanation.Matches[i]
	t := OwnSeen(m.Lines)
	if t >= fewOwnLines || m.Evidence == result.Established {
		return nil
	}
	text := fmt.Sprintf("%s rests on %s that no other phase covers.", m.Phase.Name, plural(t, "line", "lines"))
	if t == 0 {
		text = m.Phase.Name + " has no line that no other phase covers: it is named for what others leave under their lines, and need not be there."
	}
	return []xrd.Caution{{Code: "few-lines", Severity: xrd.SeverityCaution,
		Text:   text,
		Remedy: "Confirm by elemental analysis, a wider scan or another tube.", Evidence: map[string]any{"phase": m.Phase.ID, "own_lines": t}}}
}

func lies(r float64) string {
	if r < 1 {
		return "preferably along"
	}
	return "rarely along"
}

// doubtfulCell reports whether the cell of a match is a reason why its name is less than established.
func doubtfulCell(m identify.Match) bool {
	return m.Evidence != result.Established && slices.ContainsFunc(m.Reasons, func(r identify.Reason) bool { return r.Code == "cell" })
}

// cellChanged reports a cell that differs from the reference by more than a cell of the pure phase can, or so that its name is doubted.
func cellChanged(e Evidence, i int) []xrd.Caution {
	fit := e.Explanation.Fit
	m := e.Explanation.Matches[i]
	least := cellChange
	if doubtfulCell(m) {
		least = 0
	}
	for _, p := range fit.Parameters {
		if p.Phase == i && p.Free && p.Kind >= pattern.CellA && p.Kind <= pattern.CellC && math.Abs(p.Value) > least && math.Abs(p.Value) > 5*p.U {
			evidence := map[string]any{"phase": m.Phase.ID, "relative_change": p.Value, "u": p.U}
			severity := xrd.SeverityCaution
			if m.Evidence == result.Tentative && e.isTrace(i) {
				severity = xrd.SeverityNote // its name is in doubt, and its cell with it
			}
			if p.AtBound() {
				return cellAtBound(m.Phase, p.Value, severity)
			}
			remedy := "Compare with elemental analysis, and quantify with a structure of that composition (--library); use an internal standard for the angle scale."
			if m.Evidence == result.Tentative && !m.Phase.SolidSolution {
				remedy = "If it takes up other elements, --solid-solution " + m.Phase.ID + " lets its cell go further. " + remedy
			}
			return []xrd.Caution{{Code: "solid-solution", Severity: severity,
				Text:   fmt.Sprintf("The cell of %s differs from its reference by %+.2f %%%s: a solid solution, strain of the section, or another phase of its type. Its composition does not follow from this alone, and its fraction holds for the intensities of the reference: other atoms scatter more or less.", m.Phase.Name, 100*p.Value, measuredCell(fit, i, evidence)),
				Remedy: remedy, Evidence: evidence}}
		}
	}
	return nil
}

// traceShare is the share of the intensity of all phases below which one is a trace: whole patterns misfit by as much (orderFloor).
const traceShare = orderFloor

// isTrace reports whether a phase makes up little of what is fitted.
func (e Evidence) isTrace(match int) bool {
	var own, all float64
	for i, m := range e.Explanation.Matches {
		for _, l := range m.Lines {
			if all += l.Fitted; i == match {
				own += l.Fitted
			}
		}
	}
	return own < traceShare*all
}

// cellAtBound tells of a cell that may lie farther from its reference than is tried.
func cellAtBound(p refdata.Phase, change float64, severity xrd.Severity) []xrd.Caution {
	remedy := "See whether the phase is another one of the same type, or whether the angle scale is off."
	if !p.SolidSolution {
		remedy = "If it forms solid solutions, give --solid-solution " + p.ID + ", so that its cell may go further; otherwise see whether the phase is another one of the same type, or the angle scale is off."
	}
	return []xrd.Caution{{Code: "solid-solution", Severity: severity,
		Text:   fmt.Sprintf("The cell of %s ended at the bound of what is tried, %+.2f %% from its reference: where it lies is not known, and no uncertainty is given.", p.Name, 100*change),
		Remedy: remedy, Evidence: map[string]any{"phase": p.ID, "relative_change": change, "u": nil, "at_bound": true}}}
}

// measuredCell says in words which edges were measured, with standard uncertainties, and adds them to the evidence.
func measuredCell(fit *pattern.Fit, i int, evidence map[string]any) string {
	cell, u, ok := fit.Cell(i)
	if !ok {
		return ""
	}
	var parts []string
	for _, e := range []struct {
		name string
		v, u float64
	}{{"a", cell.A, u.A}, {"b", cell.B, u.B}, {"c", cell.C, u.C}} {
		if e.u > 0 && (e.name == "a" || e.v != cell.A) {
			parts = append(parts, fmt.Sprintf("%s = %.4f ± %.4f Å", e.name, e.v, e.u))
			evidence[e.name], evidence["u_"+e.name] = e.v, e.u
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return " (" + strings.Join(parts, ", ") + ")"
}

// OwnSeen returns how many lines of a phase that no other covers are seen.
func OwnSeen(lines []pattern.LineFit) int {
	n := 0
	for _, l := range lines {
		if l.Own() && l.Seen() {
			n++
		}
	}
	return n
}
