package diagnose

import (
	"fmt"
	"math"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// Absorption over the mean beyond which a phase is named.
const leastContrast, mostContrast = 0.7, 1.4

// isSection reports whether the specimen is stated to be a section.
func (e Evidence) isSection() bool {
	s := e.Facts.Specimen.Section
	switch e.Amounts.Answer.Absorption {
	case quantify.OfMosaic, quantify.BothLimits, quantify.NotKnownYet:
		return true
	}
	return s != "" && s != "powder"
}

// contrast names phases that absorb much more or less than the mean, and says what of it is in the fractions.
func contrast(e Evidence) []xrd.Caution {
	var list []string
	for i := range e.Amounts.Roles {
		f := e.Amounts.Answer.Fractions[i]
		if !math.IsNaN(f.Coarse.Percent) && (f.MuRatio < leastContrast || f.MuRatio > mostContrast) {
			list = append(list, fmt.Sprintf("%s %.2f", e.Explanation.Fit.Setup.Phases[i].Name, f.MuRatio))
		}
	}
	c := xrd.Caution{Code: "microabsorption", Severity: xrd.SeverityNote, Evidence: map[string]any{"phases": len(list)}}
	differs := "Absorption differs between the phases (μ over the mean: " + strings.Join(list, ", ") + "). "
	if len(list) == 0 {
		differs = "Absorption differs between the phases. "
	}
	switch a := e.Amounts.Answer.Absorption; {
	case a == quantify.NotKnownYet:
		c.Severity = xrd.SeverityCaution
		c.Text = "The absorption of a phase is not known, so that the fractions are those of a fine powder although the specimen is a section."
		c.Remedy = "Give its density and formula, or its crystal structure (CIF)."
		return []xrd.Caution{c}
	case a == quantify.Either && len(e.specimenPhases()) == 1 && e.Amounts.Answer.Amorphous == nil:
		return nil // a phase alone is all of it in both limits
	case a == quantify.Either:
		c.Severity = xrd.SeverityCaution
		c.Text = differs + "Nobody said whether the specimen is a powder or a section, so that the intervals hold both: from a fine powder to a section of coarse regions."
		c.Remedy = "Say which it is: --section powder narrows them; for a section, --section transverse, longitudinal or rolled, with the mean linear intercept of its regions (--intercept) where a micrograph tells it."
	case len(list) == 0:
		return nil
	case a == quantify.BothLimits:
		c.Severity = xrd.SeverityCaution
		c.Text = differs + "The intervals run from the limit of fine to that of coarse regions, since the size of the regions of this section is not stated."
		c.Remedy = "Measure the mean linear intercept of the regions of each phase on a micrograph and state it with --intercept MICRON±U:ID; area fractions (--area) help as much."
	case a == quantify.OfMosaic:
		c.Text = differs + "The fractions are corrected for it with the stated intercepts; regions with a direction, such as lamellae on edge along the beam, and layers are not covered."
		c.Remedy = "Compare with area fractions of a micrograph (--area)."
	case e.isSection():
		c.Severity = xrd.SeverityCaution
		c.Text = differs + "Fractions are corrected with the stated grain sizes, as in a powder."
		c.Remedy = "For a section, state the mean linear intercept (--intercept) instead."
	default:
		c.Text = differs + "Fractions hold for a fine powder; intervals reach out for grains up to 5 µm, and for grains much larger than 1/μ see the coarse limit."
		if f := e.Document.Factors; f != nil && len(f.Without) == 0 {
			c.Text = differs + "The factors from weighed mixtures hold for grains of the size that they had; for grains much larger than 1/μ see the coarse limit."
		}
		c.Remedy = "Use a finer powder" + dust(e.specimenPhases()...) + ", or state the size of its grains (--grain)."
	}
	return []xrd.Caution{c}
}

// dust warns of what grinding phases sets free.
func dust(phases ...refdata.Phase) string {
	var names []string
	for _, p := range phases {
		if len(refdata.Hazards(p)) > 0 {
			names = append(names, p.Name)
		}
	}
	if len(names) == 0 {
		return " (wet or under extraction, as with any dust)"
	}
	return " (only wet or under extraction, with the waste collected: the dust of " + listed(names) + " is harmful)"
}

// listed joins names as English does.
func listed(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// morePoles advises what brings more grains into the beam.
func (e Evidence) morePoles() string {
	if e.isSection() {
		return "Spin the specimen, scan several spots, or further sections with --same-specimen."
	}
	return "Spin the specimen, scan several spots, or grind finer" + dust(e.specimenPhases()...) + "."
}

// specimenPhases are those of the specimen.
func (e Evidence) specimenPhases() (out []refdata.Phase) {
	for i, role := range e.Amounts.Roles {
		if role == quantify.Specimen {
			out = append(out, e.Explanation.Fit.Setup.Phases[i])
		}
	}
	return out
}

// micrographDisagrees tells when area fractions and diffraction exclude each other, with the likely causes.
func micrographDisagrees(e Evidence) []xrd.Caution {
	m := e.Amounts.Image
	if m == nil || m.Agree() {
		return nil
	}
	worst := e.Amounts.Areas[0]
	for _, a := range e.Amounts.Areas {
		if math.Abs(m.Z[a.Phase]) > math.Abs(m.Z[worst.Phase]) {
			worst = a
		}
	}
	p := e.Explanation.Fit.Setup.Phases[worst.Phase]
	return []xrd.Caution{{Code: "micrograph-disagrees", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("Micrograph and diffraction disagree: %s takes %.3g %% of the area and %.3g vol%% by diffraction (z = %.1f; p = %.1g of all areas together). Nothing is combined.",
			p.Name, worst.Percent, e.Amounts.Answer.Fractions[worst.Phase].Volume.Percent, m.Z[worst.Phase], m.P),
		Remedy:   "Likely, in this order: " + strings.Join(e.causes(worst.Phase), "; ") + ".",
		Evidence: map[string]any{"phase": p.ID, "z": m.Z[worst.Phase], "p": m.P}}}
}

// causes lists why an image and a scan may differ, the likely first: what the analysis has reasons for comes before the rest.
func (e Evidence) causes(phase int) []string {
	type cause struct {
		text  string
		known bool
	}
	f := e.Amounts.Answer.Fractions[phase]
	all := []cause{
		{"absorption in coarse regions (state or check --intercept)", e.Amounts.Answer.Absorption == quantify.BothLimits || f.MuRatio < leastContrast || f.MuRatio > mostContrast},
		{"preferred orientation (scan a second cut with --same-specimen)", e.texture(phase)},
		{"a soft phase smeared over its neighbours, or a brittle one pulled out, in preparation", false},
		{"a thin layer on the surface that the image does not tell from the rest", false},
		{"a wrong phase named in the image: compare with elemental analysis", false},
	}
	var first, then []string
	for _, c := range all {
		if c.known {
			first = append(first, c.text)
		} else {
			then = append(then, c.text)
		}
	}
	return append(first, then...)
}

// texture reports whether the fit found preferred orientation of a phase.
func (e Evidence) texture(match int) bool {
	k := e.place(match)
	return k >= 0 && k < len(e.Document.Phases) && len(e.Document.Phases[k].Texture) > 0
}
