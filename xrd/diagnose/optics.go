package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// glowingShare is the wt% of such elements from which their glow matters (common practice).
const glowingShare = 10.0

// fluorescence names elements of the specimen that glow in the radiation of the tube, unless a monochromator
// keeps that out of the detector.
func fluorescence(e Evidence) []xrd.Caution {
	if e.Facts.Instrument.Monochromator.Kind != xrd.NoMonochromator || len(e.Amounts.Answer.Withheld) > 0 {
		return nil
	}
	var share float64
	var names []string
	for _, symbol := range e.Facts.Radiation.Glowing() {
		if w, _ := elementShare(e, symbol); w > 1 {
			share += w
			names = append(names, symbol)
		}
	}
	if !(share > glowingShare) {
		return nil
	}
	fit := e.Explanation.Fit
	floor := slices.Min(fit.Background)
	strongest := 0.0
	for i, y := range fit.Fitted {
		strongest = math.Max(strongest, y-fit.Background[i])
	}
	return []xrd.Caution{{Code: "fluorescence", Severity: xrd.SeverityNote,
		Text: fmt.Sprintf("%s Kα makes %s fluoresce (%.0f wt%%), which only raises the background: its least is %.0f, the strongest line stands %.0f above it. Detection limits rise with its square root.",
			e.Facts.Radiation.Name, strings.Join(names, ", "), share, floor, strongest),
		Remedy:   "Use another tube, a monochromator behind the specimen, or a narrower energy window of the detector.",
		Evidence: map[string]any{"elements": names, "weight_percent": share, "background": floor, "strongest": strongest}}}
}

const (
	thickEnough = 3.1 // t μ/sin θ from which a specimen counts as infinitely thick: 0.2 % is lost (Klug & Alexander 1974, from memory)
	packing     = 0.6 // volume fraction of solid in a pressed powder (common practice)
)

// thin says from which angle on a specimen of known thickness is too thin for the beam.
func thin(e Evidence) []xrd.Caution {
	t, mu := e.Facts.Thickness, e.Amounts.Answer.MeanMu
	if !(t > 0) || !(mu > 0) {
		return nil
	}
	if s := e.Facts.Specimen.Section; s == "powder" || s == "" {
		mu *= packing
	}
	_, hi := e.Scan.Range()
	needed := thickEnough * math.Sin(xrd.Radians(hi)/2) / mu * 10 // mm
	if t >= needed {
		return nil
	}
	thin := 2 * xrd.Degrees(math.Asin(math.Min(1, t/10*mu/thickEnough)))
	return []xrd.Caution{{Code: "not-infinite", Severity: xrd.SeverityCaution,
		Text:     fmt.Sprintf("The specimen of %.3g mm is too thin for the beam above %.0f°: lines there are weaker than they should be. %.2g mm are needed up to %.0f°.", t, thin, needed, hi),
		Remedy:   "Use a thicker specimen, or leave high angles out with --range.",
		Evidence: map[string]any{"thickness_mm": t, "needed_mm": needed, "thin_above_two_theta": thin}}}
}

const (
	deformedStrain = 1e-3 // apparent strain of a surface that preparation has deformed (common practice)
	deformedSigmas = 5.0
)

// deformed reports broad lines of a section, whose surface grinding and polishing deform. Without a calibrated
// instrument the width of lines says nothing of strain.
func deformed(e Evidence) []xrd.Caution {
	switch e.Facts.Specimen.Section {
	case "", "powder":
		return nil
	}
	if !e.Facts.Instrument.Calibrated {
		return nil
	}
	var names []string
	most := 0.0
	for _, q := range e.Explanation.Fit.Parameters {
		if q.Kind != pattern.Strain || !q.Free || q.Phase < 0 || e.Amounts.Roles[q.Phase] != quantify.Specimen {
			continue
		}
		if strain := pattern.StrainOf(q.Value); strain > deformedStrain && q.Value > deformedSigmas*q.U {
			names = append(names, e.Explanation.Matches[q.Phase].Phase.Name)
			most = math.Max(most, strain)
		}
	}
	if len(names) == 0 {
		return nil
	}
	return []xrd.Caution{{Code: "surface-deformed", Severity: xrd.SeverityCaution,
		Text:     fmt.Sprintf("Lines of %s are broadened by microstrain (apparent strain up to %.1e). Grinding and polishing do that to the few microns that are seen, and can transform a phase there.", strings.Join(names, ", "), most),
		Remedy:   "Scan again after a final etch, vibratory or electrolytic polish: what preparation did goes away.",
		Evidence: map[string]any{"phases": names, "strain": most}}}
}
