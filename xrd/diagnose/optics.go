package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat"

	"phasetally/xrd"
	"phasetally/xrd/identify"
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
	edgeSigmas = 6.0  // significance of a step (thousands of places are not tried: there is one for each line)
	edgeWindow = 1.0  // degrees on each side of the foot
	edgeStrong = 0.05 // of the strongest line: weaker ones have no foot that can be seen
	edgeReach  = 2.0  // degrees below a foot within which its step may pass for peaks
)

// A Step is the step of white radiation at the low-angle foot of strong lines.
type Step struct {
	feet           []float64 // degrees 2θ, of the strongest line first
	height, sigmas float64   // of the step over the integrated intensity of its line, per degree
}

// EdgeStep looks for steps in the residual of a fit at the feet of strong lines, all of the same height beside their lines.
func EdgeStep(out *identify.Explanation) (Step, bool) {
	fit := out.Fit
	if fit == nil || fit.Setup.Instrument.Monochromator.Kind != xrd.NoMonochromator {
		return Step{}, false
	}
	_, edge, ok := fit.Setup.Radiation.Filter()
	if !ok {
		return Step{}, false
	}
	var s Step
	var num, den float64
	for _, l := range strongLines(out.Matches) {
		line, ok1 := xrd.TwoTheta(l.Line.D, fit.Setup.Radiation.KAlpha1)
		foot, ok2 := xrd.TwoTheta(l.Line.D, edge)
		if !ok1 || !ok2 {
			continue
		}
		foot += l.TwoTheta - line
		s.feet = append(s.feet, foot)
		n, d := stepAt(fit, foot, math.Min(edgeWindow, (l.TwoTheta-foot)/2-l.FWHM))
		num += l.Fitted * n
		den += l.Fitted * l.Fitted * d
	}
	if !(den > 0) {
		return s, false
	}
	s.height, s.sigmas = num/den, num/math.Sqrt(den)
	return s, math.Abs(s.sigmas) > edgeSigmas
}

// strongLines returns the lines from which a foot could be seen, the strongest first.
func strongLines(matches []identify.Match) []pattern.LineFit {
	var out []pattern.LineFit
	var most float64
	for _, m := range matches {
		for _, l := range m.Lines {
			most = math.Max(most, l.Fitted)
		}
	}
	for _, m := range matches {
		for _, l := range m.Lines {
			if l.Fitted > edgeStrong*most {
				out = append(out, l)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b pattern.LineFit) int { return cmp.Compare(b.Fitted, a.Fitted) })
	return out
}

// stepAt returns what a step at an angle is estimated from, its size over its variance and one over its variance, beside a straight
// line through what the phases leave within reach of it, where no phase has a line that could be off. The fitted background is not
// used: it may have bent to take up a part of the step.
func stepAt(fit *pattern.Fit, at, reach float64) (sum, squares float64) {
	var d, y, w []float64
	for i, x := range fit.Setup.TwoTheta {
		if !(math.Abs(x-at) < reach) {
			continue
		}
		var lines float64
		for _, c := range fit.Curves {
			lines += c[i]
		}
		if noise := fit.NoiseAt(i); lines <= 3*math.Sqrt(noise) {
			d, y, w = append(d, x-at), append(y, fit.Setup.Intensity[i]-lines), append(w, 1/noise)
		}
	}
	if len(d) < stepPoints {
		return 0, 0
	}
	mean := stat.Mean(d, w)
	var along, square float64 // of the step, with the straight line taken out of it
	side := make([]float64, len(d))
	for i := range d {
		side[i] = math.Copysign(0.5, d[i])
	}
	middle := stat.Mean(side, w)
	for i := range d {
		along += w[i] * (d[i] - mean) * (side[i] - middle)
		square += w[i] * (d[i] - mean) * (d[i] - mean)
	}
	for i := range d {
		bare := side[i] - middle - along/square*(d[i]-mean)
		sum += w[i] * bare * y[i]
		squares += w[i] * bare * bare
	}
	return sum, squares
}

// stepPoints is the least number of points that a step is estimated from.
const stepPoints = 12

// edgeStep reports the step of the filter's edge.
func edgeStep(e Evidence) []xrd.Caution {
	s, ok := EdgeStep(e.Explanation)
	if !ok {
		return nil
	}
	filter, _, _ := e.Facts.Radiation.Filter()
	return []xrd.Caution{{Code: "edge-step", Severity: xrd.SeverityNote,
		Text:     fmt.Sprintf("White radiation steps at the K edge of the %s filter on the low-angle foot of strong lines, the clearest at %.2f°; it is neither a halo nor a phase.", filter, s.feet[0]),
		Remedy:   "A monochromator or a detector with a narrow energy window removes it.",
		Evidence: map[string]any{"two_theta": s.feet[0], "significance": math.Abs(s.sigmas), "height": s.height}}}
}

// OnFoot reports whether an angle lies where a step at the foot of a strong line may pass for a peak.
func (s Step) OnFoot(twoTheta float64) bool {
	return slices.ContainsFunc(s.feet, func(foot float64) bool { return twoTheta > foot-edgeReach && twoTheta < foot+0.3 })
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
