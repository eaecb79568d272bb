package diagnose

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// A cause is a caution that explains others: what is a consequence of it is told as a note that says so, or not at all, so that
// one fault is one caution.
type cause struct {
	code     string
	severity xrd.Severity // only when it is as grave; empty: always
	explains []string     // codes
	silent   bool         // its consequences are not told: they rest on what the cause makes meaningless
	may      bool         // it may explain them: they are no more than what it does elsewhere
	// holds reports whether it explains another caution of this analysis; nil: it always does.
	holds func(e Evidence, of xrd.Caution) bool
}

// causes, the one that explains most first.
var causes = []cause{
	// Read as what it is not, a scan says nothing.
	{code: "axis-doubtful", silent: true,
		explains: []string{"radiation-doubtful", "unexplained-peaks", "amorphous-halo", "texture", "coarse-grain", "solid-solution", "few-lines", "slit-mode", "beam-overspill",
			"layered", "methods-disagree", "same-lines", "undetermined", "preparation-artefact", "microabsorption", "k-beta", "tungsten-line", "edge-step", "step-too-coarse", "range-too-short", "not-counts", "alpha2-missing", "sum-assumption"}},
	// With another tube every angle is of another spacing: what a fit says of phases says nothing. The verdict that the scan is not
	// explained goes with it.
	{code: "radiation-doubtful", severity: xrd.SeverityStop, silent: true,
		explains: []string{"partly-explained", "unexplained-peaks", "amorphous-halo", "texture", "coarse-grain", "solid-solution", "few-lines", "slit-mode", "beam-overspill",
			"layered", "methods-disagree", "same-lines", "undetermined", "preparation-artefact", "microabsorption", "alpha2-missing", "k-beta", "tungsten-line", "epitaxial"}},
	// What a fit says of candidates that do not account for a scan is no property of the specimen.
	{code: "not-explained", silent: true,
		explains: []string{"texture", "coarse-grain", "solid-solution", "few-lines", "slit-mode", "beam-overspill", "layered", "methods-disagree", "same-lines",
			"microabsorption", "reference-doubtful", "surface-deformed"}},
	// The scatter of points that is taken for noise is that of lines with too few points.
	{code: "step-too-coarse", explains: []string{"not-counts"}, holds: func(e Evidence, _ xrd.Caution) bool { return !e.Found.Smoothed() }},
	// Clipped tops leave feet that no line of the right height has, and flanks that are narrower than the line.
	{code: "saturation", explains: []string{"step-too-coarse"}},
	{code: "saturation", explains: []string{"unexplained-peaks", "partly-explained"}, holds: leftOnClipped},
	// Lines that few grains or a texture of another kind make too strong are left in part, at places where phases have lines.
	{code: "coarse-grain", explains: []string{"unexplained-peaks", "partly-explained", "methods-disagree"}, holds: leftOnLines},
	{code: "coarse-grain", explains: []string{"partly-explained"}, holds: nothingLeft},
	// A trend of lines that scatter so much is a matter of which grains lie right.
	{code: "coarse-grain", explains: []string{"beam-overspill", "slit-mode"}, may: true, holds: fromTrend},
	// A hump bends what lies under the single lines on it.
	{code: "amorphous-halo", severity: xrd.SeverityCaution, explains: []string{"methods-disagree"}, may: true, holds: singleOnHump},
	// A layer weakens lines the more the lower they lie, which looks like lines that scatter, or like a texture.
	{code: "layered", explains: []string{"coarse-grain", "methods-disagree"}},
	{code: "layered", explains: []string{"texture"}, may: true},
	{code: "layered", explains: []string{"partly-explained"}, holds: nothingLeft},
	// Texture makes some lines of a phase strong and others weak; the whole pattern allows for it, single lines do not.
	{code: "texture", explains: []string{"methods-disagree"}},
	// A phase that is missing has lines under those of others, which then look textured or shifted.
	{code: "partly-explained", explains: []string{"methods-disagree"}},
	{code: "partly-explained", explains: []string{"texture"}, may: true, holds: movesLess},
	// A name that accounts for no more than what is left may stand in for the phase that is missing.
	{code: "partly-explained", explains: []string{"few-lines", "solid-solution", "preparation-artefact"}, may: true, holds: standsIn},
	{code: "partly-explained", explains: []string{"coarse-grain"}, may: true, holds: standsInAlone},
	{code: "not-explained", explains: []string{"preparation-artefact"}, may: true, holds: standsIn},
	// What is left are the lines of a residue of preparation.
	{code: "preparation-artefact", explains: []string{"unexplained-peaks", "partly-explained"}, may: true, holds: allSuspected},
	// With few counts few lines are seen, and the share that is explained is as unsure as they are.
	{code: "counts-too-low", explains: []string{"few-lines"}, may: true},
	{code: "counts-too-low", explains: []string{"partly-explained"}, may: true, holds: nothingLeft},
	// The Kβ image of a line beyond the end of the scan has no parent in it.
	{code: "k-beta", explains: []string{"unexplained-peaks", "partly-explained"}, holds: leftByKBeta},
	{code: "edge-step", explains: []string{"amorphous-halo"}, holds: humpOnFoot},
	{code: "edge-step", explains: []string{"few-lines"}, may: true, holds: restsOnFoot},
}

// consequences marks what is explained by something else in the list.
func consequences(e Evidence, list []xrd.Caution) []xrd.Caution {
	out := list[:0:0]
	for _, c := range list {
		k := slices.IndexFunc(causes, func(r cause) bool {
			raised := func(o xrd.Caution) bool { return o.Code == r.code && (r.severity == "" || o.Severity == r.severity) }
			return slices.Contains(r.explains, c.Code) && (c.Severity != xrd.SeverityNote || r.silent) && slices.ContainsFunc(list, raised) &&
				(r.holds == nil || r.holds(e, c))
		})
		switch {
		case k < 0:
			out = append(out, c)
		case !causes[k].silent:
			c.Severity = xrd.SeverityNote
			c.Text += map[bool]string{false: " It follows from another caution: ", true: " It may follow from another caution: "}[causes[k].may] + causes[k].code + "."
			out = append(out, c)
		}
	}
	return out
}

// nothingLeft reports whether an explanation is partial though no peak is left and no name is in doubt: only intensities differ.
func nothingLeft(e Evidence, _ xrd.Caution) bool {
	x := e.Document.Explanation
	return x != nil && x.Verdict != result.None && len(x.LeftOverPeaks)+len(x.DoubtedPhases)+len(e.Document.UnexplainedPeaks) == 0
}

// leftOnlyAt reports whether the explanation is partial only for peaks at angles of one kind.
func (e Evidence) leftOnlyAt(kind func(twoTheta float64) bool) bool {
	x := e.Document.Explanation
	if x == nil || x.Verdict == result.None || len(x.DoubtedPhases) > 0 {
		return false
	}
	var at []float64
	for _, p := range x.LeftOverPeaks {
		at = append(at, p.TwoTheta)
	}
	for _, p := range e.Document.UnexplainedPeaks {
		at = append(at, p.TwoTheta)
	}
	return len(at) > 0 && !slices.ContainsFunc(at, func(t float64) bool { return !kind(t) })
}

// leftOnLines reports whether the explanation is partial only for peaks at places where its phases have lines.
func leftOnLines(e Evidence, _ xrd.Caution) bool {
	return e.leftOnlyAt(e.onLine)
}

// leftOnClipped is leftOnLines with lines whose points are left out because they are clipped.
func leftOnClipped(e Evidence, _ xrd.Caution) bool {
	return e.leftOnlyAt(func(twoTheta float64) bool {
		return slices.ContainsFunc(e.Explanation.Matches, func(m identify.Match) bool {
			return slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return e.atLine(l, twoTheta, lineWithin) })
		})
	})
}

// haloReach is how far from its top a halo bends the background, degrees 2θ (widths of glasses and resins are 7 to 10°).
const haloReach = 10.0

// singleOnHump reports whether only the strongest lines of phases disagree with the whole pattern, and these lie on a hump.
func singleOnHump(e Evidence, c xrd.Caution) bool {
	at, _, _, found := Hump(e.Explanation.Fit)
	single, _ := c.Evidence["single_two_theta"].([]float64)
	return found && len(single) > 0 && c.Evidence["by_all_lines"] == 0 &&
		!slices.ContainsFunc(single, func(x float64) bool { return math.Abs(x-at) > haloReach })
}

// leftByKBeta reports whether the explanation is partial only for weak peaks that are the Kβ images of lines beyond the end of the
// scan, where the cell of a phase of high symmetry has one; cells of lower symmetry have one everywhere.
func leftByKBeta(e Evidence, _ xrd.Caution) bool {
	return e.leftOnlyAt(e.kBetaBeyond)
}

const (
	kBetaMost   = 0.05 // of the strongest peak, as in package peaks (common practice)
	kBetaD      = 5e-4 // relative difference of spacings
	kBetaOrders = 12
)

// kBetaBeyond reports whether a peak is weak and where the Kβ image of a line beyond the end of the scan lies.
func (e Evidence) kBetaBeyond(twoTheta float64) bool {
	r := e.Facts.Radiation
	_, hi := e.Scan.Range()
	parent, ok := xrd.ImageTwoTheta(twoTheta, r.KBeta, r.KAlpha1)
	if !(r.KBeta > 0) || !ok || parent < hi {
		return false
	}
	var strongest, own float64
	for _, p := range e.Found.Peaks {
		strongest = max(strongest, p.Area)
		if math.Abs(p.TwoTheta-twoTheta) < p.FWHM/2 {
			own = p.Area
		}
	}
	d := r.KBeta / (2 * math.Sin(xrd.Radians(twoTheta/2)))
	return own < kBetaMost*strongest && slices.ContainsFunc(e.Explanation.Matches, func(m identify.Match) bool { return hasSpacing(m.Phase, d) })
}

// hasSpacing reports whether the cell of a phase of at least tetragonal symmetry has planes of a spacing, extinctions aside.
func hasSpacing(p refdata.Phase, d float64) bool {
	if p.Cell == nil || !slices.Contains([]refdata.CrystalSystem{refdata.Cubic, refdata.Tetragonal, refdata.Hexagonal, refdata.Rhombohedral}, p.System) {
		return false
	}
	g := p.Cell.Reciprocal()
	for h := range kBetaOrders {
		for k := range kBetaOrders {
			for l := range kBetaOrders {
				if q := g.Norm2(float64(h), float64(k), float64(l)); q > 0 && math.Abs(d*math.Sqrt(q)-1) < kBetaD {
					return true
				}
			}
		}
	}
	return false
}

// lineWithin is how near the centre of a line an angle must be to be on it, in widths of the line (half of it: what lies farther
// from the centre is told apart).
const lineWithin = 0.5

// onLine reports whether some phase has a line at an angle.
func (e Evidence) onLine(twoTheta float64) bool { return e.nearLine(twoTheta, lineWithin) }

// nearLine reports whether some phase has a line within so many of its widths of an angle, with Kα1 or Kα2.
func (e Evidence) nearLine(twoTheta, widths float64) bool {
	for _, m := range e.Explanation.Matches {
		for _, l := range m.Lines {
			if l.Covered && e.atLine(l, twoTheta, widths) {
				return true
			}
		}
	}
	return false
}

// atLine reports whether an angle lies within so many widths of a line, with Kα1 or Kα2.
func (e Evidence) atLine(l pattern.LineFit, twoTheta, widths float64) bool {
	return math.Abs(twoTheta-l.TwoTheta) < widths*l.FWHM || math.Abs(twoTheta-e.alpha2(l.TwoTheta)) < widths*l.FWHM
}

// alpha2 returns where the Kα2 of a line lies, the line itself where the tube has none.
func (e Evidence) alpha2(twoTheta float64) float64 {
	r := e.Facts.Radiation
	if at, ok := xrd.ImageTwoTheta(twoTheta, r.KAlpha1, r.KAlpha2); ok && r.KAlpha2 > 0 && r.Ratio > 0 {
		return at
	}
	return twoTheta
}

// fromTrend reports whether a caution about slit or specimen comes from a trend of intensities, not from what was stated.
func fromTrend(_ Evidence, c xrd.Caution) bool {
	_, ok := c.Evidence["slope"]
	return ok
}

// leftArea is the area of what is left in peaks.
func (e Evidence) leftArea() (area float64) {
	x := e.Document.Explanation
	if x == nil {
		return 0
	}
	for _, l := range x.LeftOverPeaks {
		for _, p := range e.Found.Peaks {
			if math.Abs(p.TwoTheta-l.TwoTheta) < p.FWHM/2 {
				area += l.Share * p.Area
			}
		}
	}
	return area
}

// about returns the lines of the phase that a caution is about.
func (e Evidence) about(c xrd.Caution) []pattern.LineFit {
	id, _ := c.Evidence["phase"].(string)
	if i := slices.IndexFunc(e.Explanation.Matches, func(m identify.Match) bool { return m.Phase.ID == id }); i >= 0 {
		return e.Explanation.Matches[i].Lines
	}
	return nil
}

// movesLess reports whether the texture of a phase moves no more intensity than is left in peaks: a missing phase has about as much
// under lines of others.
func movesLess(e Evidence, c xrd.Caution) bool {
	var more, less float64
	for _, l := range e.about(c) {
		if d := l.Fitted - l.Expected; l.Covered && d > 0 {
			more += d
		} else if l.Covered {
			less -= d
		}
	}
	return math.Max(more, less) < e.leftArea()
}

// standsIn reports whether a phase accounts for no more than what is left in peaks.
func standsIn(e Evidence, c xrd.Caution) bool {
	var all float64
	for _, l := range e.about(c) {
		if l.Covered {
			all += l.Fitted
		}
	}
	return all > 0 && all < e.leftArea()
}

// standsInAlone reports the same where lines that scatter are not what leaves peaks in turn.
func standsInAlone(e Evidence, c xrd.Caution) bool {
	return standsIn(e, c) && !leftOnLines(e, c) && !nothingLeft(e, c)
}

// allSuspected reports whether every peak that is left is one of a residue of preparation, and no name is in doubt.
func allSuspected(e Evidence, _ xrd.Caution) bool {
	x := e.Document.Explanation
	if x == nil || x.Verdict == result.None || len(x.DoubtedPhases) > 0 {
		return false
	}
	var at []float64
	for _, c := range suspected(e) {
		more, _ := c.Evidence["suspected"].([]float64)
		at = append(at, more...)
	}
	return len(at) > 0 && !slices.ContainsFunc(e.Document.UnexplainedPeaks, func(u result.Unexplained) bool { return !slices.Contains(at, u.TwoTheta) })
}
