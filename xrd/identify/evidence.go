package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// A Reason is one piece of evidence.
type Reason struct {
	Code  string  // short and stable
	Text  string  // for people
	Value float64 // the number in the text
}

// evidence returns the lines of phase number p that can speak for it: those too diffuse are left out unless there are several.
func evidence(f *pattern.Fit, p int, found []peaks.Peak) []pattern.LineFit {
	return distinct(f.Lines(p), f.Instrument(), found)
}

func distinct(lines []pattern.LineFit, ins xrd.Instrument, found []peaks.Peak) []pattern.LineFit {
	clean := sharp(lines, ins)
	if len(clean) == len(lines) {
		return lines
	}
	t := count(lines, found)
	plain := t.pieces
	for _, z := range t.shared {
		if z >= policy.Lines.PlainSigma {
			plain++
		}
	}
	if t.pieces > 0 && plain >= policy.Lines.DiffuseLeast {
		return lines
	}
	return clean
}

// diffuse reports whether a line is so wide that a step or a bend of the background may be taken for it.
func diffuse(l pattern.LineFit, ins xrd.Instrument) bool {
	return !(l.FWHM <= policy.Lines.DiffuseWidths*ins.FWHM(l.TwoTheta))
}

// sharp returns the lines that are not diffuse.
func sharp(lines []pattern.LineFit, ins xrd.Instrument) []pattern.LineFit {
	out := make([]pattern.LineFit, 0, len(lines))
	for _, l := range lines {
		if !diffuse(l, ins) {
			out = append(out, l)
		}
	}
	return out
}

// supportedByLines reports whether a phase has lines beyond chance, at least one of its own or several under stronger phases
// that those cannot explain, and is not contradicted by missing ones.
func supportedByLines(lines []pattern.LineFit, found []peaks.Peak, threshold float64) bool {
	t := count(lines, found)
	if t.absent > policy.Lines.MostAbsent*t.expected {
		return false
	}
	if t.pieces >= 2 || t.pieces == 1 && t.strongestSeen >= threshold {
		return true
	}
	strong, strongest := t.pieces, 0.0
	for _, z := range t.shared {
		if z >= threshold {
			strong++
		}
		strongest = math.Max(strongest, z)
	}
	return (strong >= 2 || strongest >= 2*threshold) && t.short <= policy.Lines.MostShort*t.tested
}

// judge finds an evidence level and reasons for every match, and how much all of them explain.
func (s *search) judge() {
	s.coverage = Judge(s.fit, s.found)
	if s.stopped > 0 && s.coverage.Verdict == result.Complete {
		s.coverage.Verdict = result.Partial
	}
	tallies := make([]tally, len(s.matches))
	for p := range s.matches {
		tallies[p] = s.look(p, &s.matches[p])
	}
	for p, t := range tallies {
		m, w := &s.matches[p], s.whole()
		if s.job.Known != nil { // it keeps what the search said of it
			m.Isotypes, m.Elsewhere = s.isotypes(m), s.elsewhere(m)
		}
		m.dark = 0
		m.Evidence = w.evidenceLevel(t, m)
		if w.standsIn(t, m) {
			s.coverage.doubt(m.Phase.ID)
		}
	}
	angles := s.unaccounted() // after all have been asked
	var spacings []float64
	for _, at := range angles {
		spacings = append(spacings, s.peakPlaces(nil).spacing(at))
	}
	for p, t := range tallies {
		m, w := &s.matches[p], s.whole()
		m.dark = s.darkPlaces(m, angles)
		if parts := s.wholes(m, spacings); m.dark+len(parts) > 0 {
			m.Isotypes = append(m.Isotypes, parts...)
			m.Evidence = w.evidenceLevel(t, m)
		}
		m.Reasons = w.reasons(t, m)
	}
}

// look compares the lines of phase number p of the fit with the scan; what it finds is kept in the match.
func (s *search) look(p int, m *Match) tally {
	m.Lines = s.fit.Lines(p)
	m.Significance = significance(s.fit, p)
	m.shift, m.shiftU = farthestEdge(s.fit, p)
	m.cellNumbers, m.atBound, m.ratios = cellNumbers(s.fit, p), s.fit.CellAtBound(p), edgeRatios(s.fit, p)
	m.scatter = 0
	if scatter, lines := pattern.IntensityScatter(m.Lines); lines >= policy.Lines.ScatterLeast {
		m.scatter = scatter
	}
	m.outsider = s.outside[m.Index]
	if s.job.Collection != nil { // it keeps what the search said of it
		m.unstated = s.job.Filter.unstated(s.job.Collection.Entry(m.Index))
		m.stated = s.elementsGiven() || m.Required
	}
	m.Merit = MeritOf(m.Lines, s.found, s.fit.Setup.Radiation.KAlpha1)
	ins := s.fit.Instrument()
	speaking := distinct(m.Lines, ins, s.found)
	if len(speaking) < len(m.Lines) {
		for i := range m.Lines {
			m.Lines[i].Diffuse = diffuse(m.Lines[i], ins)
		}
	}
	t := count(speaking, s.found)
	t.diffuse = count(sharp(m.Lines, ins), s.found).pieces == 0
	return t
}

// cellAllowed reports whether phase number p has a cell that it can have.
func cellAllowed(f *pattern.Fit, p int) bool {
	return f.Setup.Phases[p].SolidSolution || math.Abs(cellShift(f, p)) <= policy.Cells.Farthest
}

// cellShift returns the mean relative change of the edges of phase number p.
func cellShift(f *pattern.Fit, p int) float64 {
	var sum, n float64
	for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
		if q, ok := f.Get(k, p); ok {
			sum += q.Value
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// reasons tells what speaks for and against the name of a match.
func (w whole) reasons(t tally, m *Match) []Reason {
	return slices.Concat(lineReasons(t, m), w.placeReasons(t, m), w.cellReasons(t, m), w.chanceReasons(m), m.rivalReasons())
}

// lineReasons are those of the lines of a match: how many are seen, lack, and stand apart.
func lineReasons(t tally, m *Match) []Reason {
	out := []Reason{
		{"significance", fmt.Sprintf("its intensity is %.0f times its standard uncertainty", m.Significance), m.Significance},
		{"own-lines", fmt.Sprintf("%d of %d lines that no other phase covers are seen", t.seen, t.own), float64(t.seen)},
	}
	if t.missing > 0 {
		text := "one line that should be seen is missing"
		if t.missing > 1 {
			text = fmt.Sprintf("%d lines that should be seen are missing", t.missing)
		}
		out = append(out, Reason{"missing-lines", text, float64(t.missing)})
	}
	if t.tooShort() {
		out = append(out, Reason{"lacking-intensity", fmt.Sprintf("%.0f %% of the intensity that its lines should have lack", 100*t.short/t.tested), t.short / t.tested})
	}
	switch {
	case t.seen < policy.Evidence.EstablishedPeaks:
		out = append(out, Reason{"few-lines", "fewer than three lines of its own", float64(t.seen)})
	case t.pieces < t.seen:
		text := fmt.Sprintf("its lines make %d separate peaks", t.pieces)
		if t.pieces < policy.Evidence.EstablishedPeaks {
			text = fmt.Sprintf("its lines make only %d separate peaks", t.pieces)
			if t.pieces == 1 {
				text = "all its lines are in one peak"
			}
		}
		out = append(out, Reason{"own-peaks", text, float64(t.pieces)})
	}
	return out
}

// placeReasons are those of where the lines of a match lie, and of the peaks that are left.
func (w whole) placeReasons(t tally, m *Match) (out []Reason) {
	if t.pieces >= policy.Evidence.EstablishedPeaks && !(m.Merit.M >= policy.Evidence.LeastMerit) {
		text := "fewer than three of its lines are found as peaks of their own"
		if m.Merit.MLines > 0 {
			text = fmt.Sprintf("the places of its lines do not agree beyond doubt: M(%d) = %.1f, at least %.0f is asked for", m.Merit.MLines, math.Floor(10*m.Merit.M)/10, policy.Evidence.LeastMerit)
		}
		out = append(out, Reason{"places", text, m.Merit.M})
	}
	if w.coverage.Share < policy.Evidence.EstablishedShare {
		out = append(out, Reason{"explained", fmt.Sprintf("all phases together account for %.0f %% of the intensity in peaks", 100*w.coverage.Share), w.coverage.Share})
	}
	if t.diffuse && t.seen > 0 {
		out = append(out, Reason{"diffuse-lines", "its lines are so wide that steps and bends of the background may be taken for them", float64(t.seen)})
	}
	if len(w.coverage.Left) > 0 && w.contested(m) {
		out = append(out, Reason{"contested", "peaks of about the strength of its own are left: its lines may be those of what is missing", float64(len(w.coverage.Left))})
	}
	if n := t.pieces - m.cellNumbers; t.pieces >= policy.Evidence.EstablishedPeaks && n < policy.Evidence.Agreements {
		out = append(out, Reason{"agreements", fmt.Sprintf("its cell was fitted with %d numbers, so that little is left for %d peaks to agree with", m.cellNumbers, t.pieces), float64(n)})
	}
	return out
}

// cellReasons says where the cell of a match lies, when it is not that of its reference.
func (w whole) cellReasons(t tally, m *Match) []Reason {
	out := w.whereCellLies(t, m)
	if m.otherIntensities() {
		out = append(out, Reason{"intensities", fmt.Sprintf("with that cell its lines scatter by %.0f %% about the intensities of the reference: another phase of the same type has the same lines", 100*m.scatter), m.scatter})
	}
	return out
}

// whereCellLies is the reason of the cell alone.
func (w whole) whereCellLies(t tally, m *Match) []Reason {
	switch {
	case m.atBound:
		return []Reason{{"cell", fmt.Sprintf("its cell ended at the bound of what is tried, %.2f %% from the reference: where it lies is not known", 100*m.shift), 100 * m.shift}}
	case m.shifted() && w.cellVouched(t, m):
		return []Reason{{"cell", fmt.Sprintf("its cell differs by %.2f %% from the reference, yet %d peaks lie where its lines then should: temperature, or other atoms in some places", 100*m.shift, t.pieces), 100 * m.shift}}
	case m.shifted():
		return []Reason{{"cell", fmt.Sprintf("its cell differs by %.2f %% from the reference: it may be another phase of the same type, or a solid solution", 100*m.shift), 100 * m.shift}}
	}
	return nil
}

// chanceReasons are those of what was not tried, and of what chance gives.
func (w whole) chanceReasons(m *Match) (out []Reason) {
	if w.stopped && !m.Required {
		out = append(out, Reason{"search-stopped", "the search was stopped before all that may explain its lines was tried in its place", 1})
	}
	if m.dark > 0 {
		out = append(out, Reason{"dark-places", darkWords(m.dark), float64(m.dark)})
	}
	if m.Chance >= policy.Chance.Established {
		out = append(out, Reason{"chance", byChance(m.Chance), m.Chance})
	}
	return out
}

// rivalReasons are the other phases that explain the lines of a match, or may.
func (m *Match) rivalReasons() (out []Reason) {
	if len(m.Same) > 0 {
		out = append(out, Reason{"same-substance", "other entries of the reference data are the same substance: " + strings.Join(m.Same, ", "), float64(len(m.Same))})
	}
	if n := len(m.Isotypes); n > 0 {
		decides := "the elements (--elements)"
		if m.stated {
			decides = "reference data that hold them (--library)"
		}
		out = append(out, Reason{"isotype", "phases that are not in the reference data have the lines that are seen of it: " + strings.Join(m.Isotypes, ", ") + "; what would decide: " + decides, float64(n)})
	}
	if n := len(m.Elsewhere); n > 0 {
		out = append(out, Reason{"elements", "its cell is that of " + strings.Join(m.Elsewhere, ", ") + ", which has its lines and other elements than were stated; what would decide: an elemental analysis", float64(n)})
	}
	for _, a := range m.Alternatives {
		out = append(out, Reason{"alternative", a.Name + " explains the same lines about as well; what would decide: " + a.Decide, a.Gain})
	}
	return out
}

// byChance tells how many phases of a collection would meet lines as well by chance: below one, how probable it is that any would,
// 1 − exp(−n) for a number that scatters as Poisson's.
func byChance(n float64) string {
	if n < 1 {
		return fmt.Sprintf("with a probability of %.2g %%, some phase of the collection would meet its lines as well by chance", -100*math.Expm1(-n))
	}
	return fmt.Sprintf("about %.2g phases of the collection would meet its lines as well by chance", n)
}
