package analysis

import (
	"fmt"
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// caution collects every doubt that this analysis can compute; thresholds are those of PRACTICE.md section 2.
func (r *run) caution() {
	fitted := r.outcome != nil && r.outcome.Fit != nil && len(r.outcome.Members) > 0
	for _, c := range r.found.Cautions {
		if c.Code == "amorphous-halo" && fitted {
			continue // the fitted background judges better than the one laid under the peaks
		}
		r.doc.Cautions = append(r.doc.Cautions, c)
	}
	r.doc.Cautions = append(r.doc.Cautions, r.scanCautions()...)
	r.doc.Cautions = append(r.doc.Cautions, r.searchCautions()...)
	r.doc.Cautions = append(r.doc.Cautions, r.imageCautions()...)
	if r.outcome != nil && r.outcome.Fit != nil {
		r.doc.Cautions = append(r.doc.Cautions, r.fitCautions()...)
		if fitted {
			r.doc.Cautions = append(r.doc.Cautions, r.haloCaution()...)
			r.doc.Cautions = append(r.doc.Cautions, r.anchorCaution()...)
			r.doc.Cautions = append(r.doc.Cautions, r.trendCautions()...)
			r.doc.Cautions = append(r.doc.Cautions, r.specimenCautions()...)
			r.doc.Cautions = append(r.doc.Cautions, r.undeterminedCautions()...)
			r.doc.Cautions = append(r.doc.Cautions, r.twinCautions()...)
			r.doc.Cautions = append(r.doc.Cautions, r.alikeCautions()...)
		}
		for _, i := range r.order {
			r.doc.Cautions = append(r.doc.Cautions, r.phaseCautions(i)...)
		}
		r.doc.Cautions = append(r.doc.Cautions, r.fractionCautions()...)
	}
	sortCautions(r.doc.Cautions)
}

// sortCautions puts the gravest first.
func sortCautions(list []xrd.Caution) {
	rank := map[xrd.Severity]int{xrd.Refuse: 0, xrd.Warn: 1, xrd.Note: 2}
	slices.SortStableFunc(list, func(a, b xrd.Caution) int { return rank[a.Severity] - rank[b.Severity] })
}

// specimenCautions collects what a fit with phases tells of the specimen, the optics and the reach of the scan.
func (r *run) specimenCautions() []xrd.Caution {
	var out []xrd.Caution
	for _, cautions := range []func() []xrd.Caution{r.orientedCautions, r.fluorescenceCaution, r.edgeCaution, r.thinCaution,
		r.deformedCaution, r.requestCaution, r.watchedCaution, r.strongestCaution} {
		out = append(out, cautions()...)
	}
	return out
}

func (r *run) scanCautions() []xrd.Caution {
	var out []xrd.Caution
	if r.job.RadiationAssumed {
		out = append(out, xrd.Caution{Code: "radiation-assumed", Severity: xrd.Warn,
			Text:   "The scan does not say its radiation; " + r.job.Radiation.Name + " Kα was assumed.",
			Remedy: "State it with --radiation, or as a line '# radiation: Cu' in the scan.", Evidence: map[string]any{"radiation": r.job.Radiation.Name}})
	}
	if s := r.job.Scan.About.Radiation; s != nil && !s.SameTube(r.job.Radiation) {
		out = append(out, xrd.Caution{Code: "radiation-doubtful", Severity: xrd.Warn,
			Text:   fmt.Sprintf("The scan says %s Kα, it was read with %s Kα as asked for.", s.Name, r.job.Radiation.Name),
			Remedy: "Check the tube; leave --radiation out if the scan is right.", Evidence: map[string]any{"scan": s.Name, "used": r.job.Radiation.Name}})
	}
	ins, l := r.job.Instrument, r.job.Specimen.Length
	if ins.Slit.Mode == xrd.SlitFixed && ins.Slit.Value > 0 && l > 0 {
		if s := ins.Radius * xrd.Radians(ins.Slit.Value) / l; s < 1 {
			full := 2 * xrd.Degrees(math.Asin(s))
			if first, _ := r.scan.Range(); len(r.found.Peaks) > 0 && full > math.Max(first, r.found.Peaks[0].TwoTheta) {
				out = append(out, xrd.Caution{Code: "beam-overspill", Severity: xrd.Warn,
					Text:   fmt.Sprintf("The beam is longer than the specimen below %.1f°: lines there are weaker, and the mount diffracts. Intensities were corrected for the loss.", full),
					Remedy: "Use a narrower slit or a longer piece; scan a blank of the mount.", Evidence: map[string]any{"full_above_two_theta": full}})
			}
		}
	}
	return out
}

// imageCautions says which found peaks are other wavelengths of the tube.
func (r *run) imageCautions() []xrd.Caution {
	var out []xrd.Caution
	for _, k := range []struct {
		kind              peaks.Kind
		code, line, cause string
	}{
		{peaks.KBeta, "k-beta", "Kβ", "A thicker filter or a monochromator removes it."},
		{peaks.WLine, "tungsten-line", "W Lα", "The tube's anode is coated with tungsten; it will get worse until the tube is changed."},
	} {
		var at []string
		for _, p := range r.found.Peaks {
			if p.Kind == k.kind && p.Of >= 0 && p.Of < len(r.found.Peaks) {
				at = append(at, fmt.Sprintf("%.2f° (of the line at %.2f°)", p.TwoTheta, r.found.Peaks[p.Of].TwoTheta))
			}
		}
		if len(at) > 0 {
			out = append(out, xrd.Caution{Code: k.code, Severity: xrd.Note, Text: k.line + " of strong lines is seen at " + strings.Join(at, ", ") + "; it is no phase.",
				Remedy: k.cause, Evidence: map[string]any{"lines": len(at)}})
		}
	}
	return out
}

// Limits of the cautions about the fit.
const (
	displacedMM = 0.1 // surface height that should be mended
)

func (r *run) fitCautions() []xrd.Caution {
	var out []xrd.Caution
	fit := r.outcome.Fit
	if fit.Status != leastsq.Converged && len(r.outcome.Members) > 0 {
		out = append(out, xrd.Caution{Code: "fit-not-converged", Severity: xrd.Refuse, Text: "The fit of the whole pattern ended early (" + statusNames[fit.Status] + "); numbers are provisional.",
			Remedy: "Name the phases with --phase, narrow the range with --range, or give an instrument file.", Evidence: map[string]any{"status": statusNames[fit.Status]}})
	}
	if d, ok := fit.Get(pattern.Displacement, -1); ok && math.Abs(d.Value) > displacedMM && math.Abs(d.Value) > 3*d.U && len(r.outcome.Members) > 0 {
		side := "below"
		if d.Value < 0 {
			side = "above"
		}
		out = append(out, xrd.Caution{Code: "displaced", Severity: xrd.Note,
			Text:   fmt.Sprintf("The surface lay %.2f ± %.2f mm %s the focusing plane (if the radius is %.0f mm); lines were shifted back.", math.Abs(d.Value), 2*d.U, side, r.job.Instrument.Radius),
			Remedy: "Level the mount flush with the holder; an internal standard tells height from lattice change.", Evidence: map[string]any{"displacement_mm": d.Value, "u_mm": d.U}})
	}
	for _, c := range fit.Correlated {
		if strings.Contains(c.A+c.B, "zero") && strings.Contains(c.A+c.B, "displacement") {
			out = append(out, xrd.Caution{Code: "zero-displacement-correlated", Severity: xrd.Warn,
				Text:   fmt.Sprintf("Zero and displacement cannot be told apart in this range (ρ = %.3f).", c.Rho),
				Remedy: "Fix the zero with an instrument file from a standard.", Evidence: map[string]any{"rho": c.Rho}})
		}
	}
	if n := len(r.doc.UnexplainedPeaks); n > 0 {
		u := r.doc.UnexplainedPeaks[0]
		for _, x := range r.doc.UnexplainedPeaks {
			if x.Significance > u.Significance {
				u = x
			}
		}
		out = append(out, xrd.Caution{Code: "unexplained-peaks", Severity: xrd.Warn,
			Text:   fmt.Sprintf("%s left unexplained; the clearest is at %.2f° (d = %.4f Å).", plural(n, "peak is", "peaks are"), u.TwoTheta, u.D),
			Remedy: "Give more elements or a larger library; see unexplained_peaks for what has a strong line there.", Evidence: map[string]any{"peaks": n, "two_theta": u.TwoTheta}})
	}
	return out
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

const (
	texturedR     = 0.10 // |r − 1| of a March–Dollase coefficient that matters
	grainScatter  = 0.20 // relative scatter of lines after texture that means few grains
	cellChange    = 5e-3 // relative change of an edge that means a solid solution
	fewOwnLines   = 3
	minorityLines = 4
)

func (r *run) phaseCautions(i int) []xrd.Caution {
	var out []xrd.Caution
	m := r.outcome.Members[i]
	out = append(out, m.Phase.Cautions...)
	for _, t := range r.doc.Phases[r.place(i)].Texture {
		if math.Abs(t.R-1) > texturedR && math.Abs(t.R-1) > 3*t.RU {
			out = append(out, xrd.Caution{Code: "texture", Severity: xrd.Warn,
				Text:   fmt.Sprintf("%s is textured: planes (%d %d %d) lie %s the surface (March–Dollase r = %.2f ± %.2f). The model allows for it; the fraction is less sure.%s", m.Phase.Name, t.Pole[0], t.Pole[1], t.Pole[2], lies(t.R), t.R, 2*t.RU, r.fibreWords(r.doc.Phases[r.place(i)].Sections)),
				Remedy: "Crush or file to a powder, or scan a second section at right angles.", Evidence: map[string]any{"phase": m.Phase.ID, "r": t.R}})
		}
	}
	out = append(out, r.fibreCaution(i)...)
	scatter, lines := lineScatter(m.Lines)
	if lines >= minorityLines && scatter > grainScatter {
		out = append(out, xrd.Caution{Code: "coarse-grain", Severity: xrd.Warn,
			Text:   fmt.Sprintf("Intensities of %s scatter by %.0f %% about its reference beyond counting: few grains, or a texture of another kind.", m.Phase.Name, 100*scatter),
			Remedy: "Spin the specimen, scan several spots, or grind finer.", Evidence: map[string]any{"phase": m.Phase.ID, "relative_scatter": scatter}})
	}
	if t := ownSeen(m.Lines); t < fewOwnLines && m.Evidence != result.Established {
		out = append(out, xrd.Caution{Code: "few-lines", Severity: xrd.Warn,
			Text:   fmt.Sprintf("%s rests on %s that no other phase covers.", m.Phase.Name, plural(t, "line", "lines")),
			Remedy: "Confirm by elemental analysis, a wider scan or another tube.", Evidence: map[string]any{"phase": m.Phase.ID, "own_lines": t}})
	}
	return append(out, r.cellCaution(i)...)
}

func lies(r float64) string {
	if r < 1 {
		return "preferably along"
	}
	return "rarely along"
}

// cellCaution reports a cell that differs from the reference by more than a cell of the pure phase can.
func (r *run) cellCaution(i int) []xrd.Caution {
	fit := r.outcome.Fit
	for _, p := range fit.Parameters {
		if p.Phase == i && p.Free && p.Kind >= pattern.CellA && p.Kind <= pattern.CellC && math.Abs(p.Value) > cellChange && math.Abs(p.Value) > 5*p.U {
			m := r.outcome.Members[i]
			evidence := map[string]any{"phase": m.Phase.ID, "relative_change": p.Value, "u": p.U}
			return []xrd.Caution{{Code: "solid-solution", Severity: xrd.Warn,
				Text:   fmt.Sprintf("The cell of %s differs from its reference by %+.2f %%%s: a solid solution, or strain of the section. Its composition does not follow from this alone.", m.Phase.Name, 100*p.Value, measuredCell(fit, i, evidence)),
				Remedy: "Compare with elemental analysis; use an internal standard for the angle scale.", Evidence: evidence}}
		}
	}
	return nil
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

// lineScatter returns the standard deviation of observed over fitted intensity of a phase's own lines beyond counting,
// and how many lines it rests on.
func lineScatter(lines []pattern.LineFit) (scatter float64, n int) {
	var excess, weight float64
	for _, l := range lines {
		if !l.Covered || l.Clear < ownClear || !(l.Fitted > 10*l.ObservedU) {
			continue
		}
		d, u := l.Observed/l.Fitted-1, l.ObservedU/l.Fitted
		w := 1 / (u*u + 0.03*0.03)
		excess += w * (d*d - u*u)
		weight += w
		n++
	}
	if !(weight > 0) {
		return 0, n
	}
	return math.Sqrt(math.Max(0, excess/weight)), n
}

func ownSeen(lines []pattern.LineFit) int {
	n := 0
	for _, l := range lines {
		if l.Covered && l.Clear >= ownClear && l.Observed > 3*l.MisfitU {
			n++
		}
	}
	return n
}

func (r *run) fractionCautions() []xrd.Caution {
	var out []xrd.Caution
	fit := r.outcome.Fit
	for _, i := range r.answer.Withheld {
		p := fit.Setup.Phases[i]
		if p.RIR.Value > 0 {
			continue // refused for another reason, which is told
		}
		out = append(out, xrd.Caution{Code: "rir-missing", Severity: xrd.Refuse, Text: p.Name + " has no reference intensity ratio, so that no fraction can be given.",
			Remedy: "Add a column rir to the list, or use a crystal structure (CIF), from which it is computed.", Evidence: map[string]any{"phase": p.ID}})
	}
	out = append(out, r.rirCautions()...)
	out = append(out, r.lineCautions()...)
	out = append(out, r.sameCautions()...)
	out = append(out, r.standardMissing()...)
	out = append(out, r.externalCautions()...)
	out = append(out, r.chemistryCaution()...)
	out = append(out, r.grainCautions()...)
	var contrast []string
	for i := range r.roles {
		f := r.answer.Fractions[i]
		if !math.IsNaN(f.Coarse.Percent) && (f.MuRatio < 0.7 || f.MuRatio > 1.4) {
			contrast = append(contrast, fmt.Sprintf("%s %.2f", fit.Setup.Phases[i].Name, f.MuRatio))
		}
	}
	if len(contrast) > 0 {
		out = append(out, xrd.Caution{Code: "microabsorption", Severity: r.grainSeverity(),
			Text:   "Absorption differs between the phases (μ over the mean: " + strings.Join(contrast, ", ") + "). Fractions hold for a fine powder; for grains much larger than 1/μ see the coarse limit.",
			Remedy: "Use a finer powder, or image analysis of the section beside it.", Evidence: map[string]any{"phases": len(contrast)}})
	}
	for i, role := range r.roles {
		if p := fit.Setup.Phases[i]; role == quantify.Preparation {
			out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.Warn,
				Text:   p.Name + " probably comes from preparation: " + p.Preparation + " It is left out of the specimen's 100 %.",
				Remedy: "Clean or re-polish and scan again. If it belongs to the specimen, name it with --require " + p.ID + ".", Evidence: map[string]any{"phase": p.ID}})
		}
	}
	if r.answer.Amorphous == nil && len(r.roles) > 0 {
		out = append(out, xrd.Caution{Code: "sum-assumption", Severity: xrd.Note, Text: "Fractions are of what diffracts sharply and was found; an amorphous part is not seen.",
			Remedy: "Add a weighed standard (--spike) to a powder to make them absolute.", Evidence: map[string]any{}})
	} else if a := r.answer.Amorphous; a != nil && a.Hi < 0 {
		out = append(out, xrd.Caution{Code: "sum-assumption", Severity: xrd.Warn, Text: "The amorphous remainder is negative: an intensity or the weighed amount is wrong by more than its uncertainty.",
			Remedy: "Check the weighing, the crystallinity of the standard and microabsorption.", Evidence: map[string]any{"amorphous_weight_percent": a.Percent}})
	}
	return out
}

// grainSeverity is a caution for a section, whose grains are usually coarse, and a note for a powder.
func (r *run) grainSeverity() xrd.Severity {
	switch r.job.Specimen.Section {
	case "", "powder":
		return xrd.Note
	}
	return xrd.Warn
}

// rirCautions reports ratios of different origin, basis or radiation in one analysis.
func (r *run) rirCautions() []xrd.Caution {
	seen := map[string]string{}
	var keys []string
	for _, p := range r.outcome.Fit.Setup.Phases {
		k := strings.Trim(p.RIR.Origin+" "+p.RIR.Basis+" "+p.RIR.Radiation, " ")
		if _, ok := seen[k]; !ok && p.RIR.Value > 0 {
			seen[k] = p.Name
			keys = append(keys, k+" ("+p.Name+")")
		}
	}
	if len(keys) < 2 {
		return nil
	}
	return []xrd.Caution{{Code: "mixed-rir", Severity: xrd.Warn, Text: "Reference intensity ratios of different kinds are mixed: " + strings.Join(keys, "; ") + ". They differ by 5 to 10 %, more for heavy phases.",
		Remedy: "Compute all of them from structures.", Evidence: map[string]any{"kinds": len(keys)}}}
}
