package report

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"phasetally/plots"
	"phasetally/xrd/result"
)

// sentencePart is a piece of the methods paragraph; a blank is something only the user knows.
type sentencePart struct {
	Text  string
	Blank bool
}

// methods drafts a methods paragraph from what the result says and leaves marked blanks for what it does not.
func methods(doc result.Document) []sentencePart {
	var out []sentencePart
	say := func(format string, args ...any) { out = append(out, sentencePart{Text: fmt.Sprintf(format, args...)}) }
	blank := func(what string) { out = append(out, sentencePart{Text: what, Blank: true}) }
	s := doc.Scan
	if s.Simulated != "" {
		say("SIMULATED, not measured: %s. ", plain(s.Simulated))
	}
	geometry := "Bragg–Brentano geometry"
	if s.Geometry == "transmission" {
		geometry = "symmetric transmission"
	}
	say("X-ray diffraction of %s was measured in %s on a ", plain(cmp.Or(plots.SampleName(s), "the specimen")), geometry)
	blank("diffractometer, detector")
	say(" with %s radiation (Kα1 %.5f Å; ", plain(s.Radiation), s.Wavelength)
	blank("kV, mA, filter or monochromator")
	say(")%s, from %s° to %s° 2θ in steps of %s°%s. The specimen was %s; ", optics(s), trim(s.TwoThetaMin), trim(s.TwoThetaMax), trim(s.Step), counting(s), specimen(s))
	blank("preparation, heat treatment, spinning")
	say(". %s by a whole-pattern fit (phasetally %s): a pseudo-Voigt profile%s over a smooth background (cubic splines, their number by the Bayesian information criterion), scales and background solved as linear parameters within the non-linear fit%s", phasesFrom(doc), plain(doc.Provenance.Version), cite(doc, "thompson1987"), cite(doc, "golub1973"))
	if c := cite(doc, "dollase1986"); c != "" {
		say(", preferred orientation after March and Dollase%s", c)
	}
	say(". ")
	if f := doc.Fit; f != nil {
		say("The fit %s with R_wp = %.2f %% (R_exp = %.2f %%, reduced χ² = %.2f). ", plain(f.Status), 100*f.RWP, 100*f.RExp, f.ReducedChiSquare)
	}
	if len(doc.Choices) > 0 {
		say("Chosen by hand while looking at the fit: %s. ", plain(strings.Join(doc.Choices, "; ")))
	}
	say("%s Detection limits follow the acceptance rule of the analysis%s.", fractionsFrom(doc), cite(doc, "currie1968"))
	if doc.Absolute != nil {
		say(" %s", absoluteSentence(doc.Absolute))
	}
	return out
}

// phasesFrom says how the phases were chosen.
func phasesFrom(doc result.Document) string {
	p := doc.Procedure
	switch {
	case p == nil:
		return "The pattern was described" // of an earlier version, without a record
	case p.Phases == result.NamedByUser && len(doc.Choices) > 0:
		return "Phases were chosen by hand, as told below, and described"
	case p.Phases == result.NamedByUser:
		return "Phases were named beforehand and described"
	case p.Phases == result.SearchedInSeries:
		return "Phases were identified in the scans of the series by explaining whole patterns and described"
	}
	return "Phases were identified by explaining the whole pattern and described"
}

// fractionsFrom says what makes fractions of intensities, and what was corrected.
func fractionsFrom(doc result.Document) string {
	p := doc.Procedure
	if p == nil || p.Fractions == result.NoFractions {
		return "No fractions are given."
	}
	s := fmt.Sprintf("Weight fractions of %s follow from reference intensity ratios normalised to 100 %%%s%s", Base(doc), cite(doc, "chung1974"), origins(doc))
	if p.Scans > 1 {
		s += fmt.Sprintf(", from %d scans of the specimen together", p.Scans)
	}
	if f := doc.Factors; f != nil && len(f.Phases) > 0 {
		s += fmt.Sprintf(", multiplied by factors from %d weighed mixtures (%s)", len(f.Mixtures), factorsOf(f))
	}
	if p.Grains {
		s += ", corrected for absorption in grains of the stated size"
	}
	switch doc.Absorption {
	case result.AbsorptionMosaic:
		s += ", corrected for absorption in the regions of the section with the stated mean linear intercepts (Markov mosaic, " + spreadOf(doc) + ")"
	case result.AbsorptionEither:
		s += "; intervals run from a fine powder to a section of coarse regions, since neither is stated"
	case result.AbsorptionLimits:
		s += "; intervals run from the limit of fine to that of coarse regions of the section, whose size is not stated"
	}
	switch p.Slit {
	case "automatic":
		s += ", intensities corrected for an automatic divergence slit that the lines call for"
	case "overspill":
		s += ", intensities corrected for a beam longer than the specimen, as the lines call for"
	}
	return s + "; intervals are 95 % and include counting, reference and texture contributions, fit uncertainties being widened for serial correlation" + cite(doc, "berar1991") + "."
}

// factorsOf lists factors.
func factorsOf(f *result.Factors) string {
	var out []string
	for _, p := range f.Phases {
		one := fmt.Sprintf("%s %.3f", plain(p.ID), p.Value)
		switch {
		case p.ID == f.Reference:
			one = plain(p.ID) + " 1 (reference)"
		case p.U != nil:
			one += fmt.Sprintf(" ± %.3f", *p.U)
		}
		out = append(out, one)
	}
	return strings.Join(out, ", ")
}

// cite gives the number of a reference in the list; "" when the document does not rest on it.
func cite(doc result.Document, key string) string {
	i := slices.IndexFunc(doc.References, func(r result.Reference) bool { return r.Key == key })
	if i < 0 {
		return ""
	}
	return fmt.Sprintf(" [%d]", i+1)
}

func trim(v float64) string { return fmt.Sprintf("%.4g", v) }

func optics(s result.Scan) string {
	var b strings.Builder
	if s.RadiusMM != nil {
		fmt.Fprintf(&b, ", goniometer radius %s mm", trim(*s.RadiusMM))
	}
	if s.Slit != "" {
		fmt.Fprintf(&b, ", divergence slit %s", plain(s.Slit))
	}
	return b.String()
}

func counting(s result.Scan) string {
	if s.CountingTimeS == nil {
		return ""
	}
	return fmt.Sprintf(", %s s per step", trim(*s.CountingTimeS))
}

func specimen(s result.Scan) string {
	parts := joined(", ", plain(s.Section), plain(s.Mount))
	if parts == "" {
		parts = "of unstated form"
	}
	if s.SpecimenLengthMM != nil {
		parts += fmt.Sprintf(", %s mm along the beam", trim(*s.SpecimenLengthMM))
	}
	return parts
}

// origins says where the intensity ratios came from.
func origins(doc result.Document) string {
	seen := map[string]bool{}
	for _, p := range doc.Phases {
		if p.RIROrigin != "" {
			seen[plain(p.RIROrigin)] = true
		}
	}
	if len(seen) == 0 {
		return ""
	}
	return " (" + strings.Join(slices.Sorted(maps.Keys(seen)), " and ") + ")"
}

func scanRows(s result.Scan) []pair {
	rows := []pair{{"File", s.File}, {"SHA-256", s.SHA256}, {"Sample", s.Sample}, {"Points", fmt.Sprint(s.Points)},
		{"Range", trim(s.TwoThetaMin) + "° to " + trim(s.TwoThetaMax) + "° 2θ"}, {"Step", trim(s.Step) + "°"},
		{"Radiation", fmt.Sprintf("%s, Kα1 %.6f Å", s.Radiation, s.Wavelength)}, {"Slit", s.Slit}, {"Section", s.Section}, {"Mount", s.Mount},
		{"Noise", s.NoiseModel}, {"Simulated", plain(s.Simulated)}}
	if s.RadiationAssumed {
		rows[6].Value += " (assumed)"
	}
	for _, o := range []struct {
		key, unit string
		v         *float64
	}{{"Goniometer radius", "mm", s.RadiusMM}, {"Specimen length", "mm", s.SpecimenLengthMM}, {"Counting time", "s per step", s.CountingTimeS}} {
		if o.v != nil {
			rows = append(rows, pair{o.key, trim(*o.v) + " " + o.unit})
		}
	}
	return slices.DeleteFunc(rows, func(p pair) bool { return p.Value == "" })
}

func fitRows(f *result.Fit) []pair {
	if f == nil {
		return nil
	}
	rows := []pair{{"Outcome", f.Status}, {"R_wp", percent(f.RWP)}, {"R_wp, background subtracted", percent(f.RWPBackground)},
		{"R_exp", percent(f.RExp)}, {"Reduced χ²", plots.Fixed(f.ReducedChiSquare, 2)}, {"Durbin–Watson", plots.Fixed(f.DurbinWatson, 2)},
		{"Zero shift", plots.Fixed(f.ZeroShift, 4) + "° 2θ"}, {"Iterations", fmt.Sprint(f.Iterations)}, {"Background", fmt.Sprintf("cubic splines over %d intervals", f.Background)}}
	if f.DisplacementMM != nil {
		rows = append(rows, pair{"Displacement of the surface", plots.Fixed(*f.DisplacementMM, 3) + " mm"})
	}
	return rows
}

func percent(v float64) string { return plots.Fixed(100*v, 2) + " %" }

func provenanceRows(p result.Provenance) []pair {
	rows := []pair{{"Program", "phasetally " + p.Version}, {"Command", p.Command}}
	if p.Started != nil {
		rows = append(rows, pair{"Started", p.Started.Format(time.RFC3339)})
	}
	if p.ElapsedS != nil {
		rows = append(rows, pair{"Elapsed", trim(*p.ElapsedS) + " s"})
	}
	return rows
}

// spreadOf says how much the intercepts of a section are taken to differ.
func spreadOf(doc result.Document) string {
	if x := doc.Scan.InterceptCV2; x != nil {
		return fmt.Sprintf("CV² of the intercepts %.3g ± %.2g as stated", x.CV2, x.U)
	}
	return "CV² of the intercepts 0.5 ± 0.3 assumed"
}
