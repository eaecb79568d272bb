package diagnose

import (
	"fmt"
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
	suspectPeaks  = 2    // that are left and must be lines of a material of preparation
	suspectShare  = 0.5  // of all peaks that are left
	suspectLine   = 30.0 // of 100: relative intensity from which a line of it must be there, or lie on a line of a phase
	suspectWithin = 1.0  // widths of a peak by which a line may be off it
	suspectUnder  = 2.0  // widths of a line of the specimen within which a weaker one is not seen
)

// suspected names materials of preparation whose lines are peaks that are left, when too many of their lines lie under those of the
// specimen for a search to take them: each strong line is such a peak or lies on a line of a phase.
func suspected(e Evidence) []xrd.Caution {
	var out []xrd.Caution
	seen := map[string]bool{}
	for _, m := range e.Facts.Preparations {
		found := func(o identify.Match) bool { return strings.EqualFold(o.Phase.ID, m.Phase) }
		if m.Phase == "" || seen[m.Phase] || slices.ContainsFunc(e.Explanation.Matches, found) {
			continue
		}
		seen[m.Phase] = true
		at := e.leftOf(m)
		apart := 0 // peaks that few grains of the specimen do not make
		for _, x := range at {
			if !e.nearLine(x, lineWithin) {
				apart++
			}
		}
		if apart < suspectPeaks || float64(len(at)) < suspectShare*float64(len(e.Document.UnexplainedPeaks)) {
			continue
		}
		var words []string
		for _, x := range at {
			words = append(words, fmt.Sprintf("%.2f°", x))
		}
		if e.statedPhase(m.Phase) { // the specimen is as likely to have it
			out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityCaution,
				Text: fmt.Sprintf("Peaks that are left at %s lie where %s has lines, whose elements are stated, and its other strong lines lie under those of the specimen: it may be a phase of the specimen whose intensities or cell are not those of its reference, or a residue of preparation (%s). It was not fitted.",
					strings.Join(words, ", "), m.Phase, m.Material),
				Remedy: "If it belongs to the specimen, name it with --require " + m.Phase + ". If not: " + lowerFirst(m.Avoid), Evidence: map[string]any{"phase": m.Phase, "suspected": at, "stated": true}})
			continue
		}
		out = append(out, xrd.Caution{Code: "preparation-artefact", Severity: xrd.SeverityCaution,
			Text:   fmt.Sprintf("Peaks that are left at %s lie where %s has lines, and its other strong lines lie under those of the specimen: it may be a residue of preparation (%s). It was not fitted.", strings.Join(words, ", "), m.Material, m.Kind),
			Remedy: m.Avoid + " If it belongs to the specimen, name it with --require " + m.Phase + ".", Evidence: map[string]any{"phase": m.Phase, "suspected": at}})
	}
	if slices.ContainsFunc(out, ofStated) { // nothing from elsewhere is needed
		out = slices.DeleteFunc(out, func(c xrd.Caution) bool { return !ofStated(c) })
	}
	if len(out) > 1 { // those that explain most of what is left
		most := func(c xrd.Caution) int { at, _ := c.Evidence["suspected"].([]float64); return len(at) }
		slices.SortStableFunc(out, func(a, b xrd.Caution) int { return most(b) - most(a) })
		out = slices.DeleteFunc(out, func(c xrd.Caution) bool { return most(c) < most(out[0]) })
	}
	return out
}

// ofStated reports whether a caution is about a phase of the stated elements.
func ofStated(c xrd.Caution) bool { return c.Evidence["stated"] == true }

// statedPhase reports whether all elements of a phase of the starter collection are among those that were stated.
func (e Evidence) statedPhase(id string) bool {
	k := slices.IndexFunc(refdata.Starter(), func(r refdata.Record) bool { return r.ID == id })
	if k < 0 || e.Facts.Elements.Len() == 0 {
		return false
	}
	f, err := refdata.ParseFormula(refdata.Starter()[k].Formula)
	return err == nil && f.Elements().Within(e.Facts.Elements)
}

// leftOf returns the peaks that are left at lines of a material, degrees 2θ; nil when one of its strong lines is neither left nor
// under a line of a phase.
func (e Evidence) leftOf(m refdata.Preparation) []float64 {
	k := slices.IndexFunc(refdata.Starter(), func(r refdata.Record) bool { return r.ID == m.Phase })
	if k < 0 {
		return nil
	}
	lo, hi := e.Scan.Range()
	var at []float64
	for _, l := range refdata.Starter()[k].Strong {
		x, ok := xrd.TwoTheta(float64(l.D), e.Facts.Radiation.KAlpha1)
		x += e.shiftAt(x)
		if !ok || x < lo || x > hi || e.Facts.isMasked(x) {
			continue
		}
		near := slices.IndexFunc(e.Document.UnexplainedPeaks, func(u result.Unexplained) bool {
			return math.Abs(u.TwoTheta-x) < suspectWithin*e.Found.Width.At(x)
		})
		switch {
		case near >= 0 && !slices.Contains(at, e.Document.UnexplainedPeaks[near].TwoTheta):
			at = append(at, e.Document.UnexplainedPeaks[near].TwoTheta)
		case near < 0 && float64(l.Intensity) >= suspectLine && !e.nearLine(x, suspectUnder):
			return nil
		}
	}
	return at
}

// shiftAt returns by how much lines at an angle are shifted, degrees 2θ.
func (e Evidence) shiftAt(twoTheta float64) float64 {
	ins := e.Explanation.Fit.Setup.Instrument
	d, _ := e.Explanation.Fit.Get(pattern.Displacement, -1)
	return ins.Zero + ins.Shift(twoTheta, d.Value)
}
