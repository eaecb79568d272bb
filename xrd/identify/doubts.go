package identify

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// doubts are reasons why a name may be wrong although lines speak for it.
type doubts struct {
	few, absent, short, places, unexplained, diffuse, chance, cell, intensities, unasked bool
}

// count returns how many doubts there are.
func (d doubts) count() int {
	n := 0
	for _, b := range []bool{d.few, d.absent || d.short, d.places, d.unexplained, d.diffuse, d.chance, d.cell, d.intensities, d.unasked} {
		if b {
			n++
		}
	}
	return n
}

// against reports whether one of them speaks against a phase; the others say that little speaks for it. Intensities that lack do not where
// the places of the lines vouch for it: texture and few grains change only those.
func (d doubts) against(vouched bool) bool { return d.absent && !vouched || d.chance || d.cell }

// A whole is what a match is judged by beside its own lines: the explanation that it is part of.
type whole struct {
	threshold  float64 // significance that a phase had to reach
	coverage   Coverage
	noneStated bool // no match has one of the stated elements
	stopped    bool // the search was stopped before others were tried in place of every match
}

// doubts returns the doubts about a match.
func (w whole) doubts(t tally, m *Match) doubts {
	contested := w.contested(m)
	least := policy.Evidence.Agreements
	if contested {
		least = policy.Evidence.ContestedAgreements
	}
	return doubts{
		few:         t.pieces < policy.Evidence.EstablishedPeaks || t.pieces-m.cellNumbers < least,
		absent:      t.absent > policy.Evidence.EstablishedAbsent*t.expected || t.tooManyMissing(),
		short:       t.tooShort(),
		places:      t.pieces >= policy.Evidence.EstablishedPeaks && !(m.Merit.M >= policy.Evidence.LeastMerit),
		unexplained: contested || !(w.coverage.Share >= policy.Evidence.EstablishedShare),
		diffuse:     t.diffuse,
		chance:      !(m.Chance+m.hidden < policy.Chance.Established),
		cell:        m.shifted() && !w.cellVouched(t, m),
		intensities: m.otherIntensities(),
		unasked:     w.stopped && !m.Required,
	}
}

// evidenceLevel says how well a match is established: each doubt takes one step down, and some things take both. One of these is a search that was
// stopped with much left: what was never tried may take the lines of a match together with the rest.
func (w whole) evidenceLevel(t tally, m *Match) result.Evidence {
	d := w.doubts(t, m)
	switch {
	case m.Required && m.Significance < w.threshold:
		return result.Named
	case len(m.Alternatives)+len(m.Isotypes)+len(m.Elsewhere)+m.dark > 0 || d.cell && !m.mayDiffer() || (d.short || t.absent > policy.Evidence.ProbableAbsent*t.expected) && !m.placesVouch(t) ||
		t.pieces < policy.Evidence.ProbablePeaks || t.pieces <= m.cellNumbers || w.coverage.Verdict == result.None || w.outnumbered(t, m) || d.unasked && !(w.coverage.Share >= policy.Search.MostlyExplained):
		return result.Tentative
	case d.count() == 0:
		return result.Established
	case d.count() == 1:
		return result.Probable
	}
	return result.Tentative
}

// standsIn reports whether a match may stand in for a phase that is missing: it accounts for a peak of its own, and more than that
// little speaks for it. The explanation is not complete then, although no peak is left.
func (w whole) standsIn(t tally, m *Match) bool {
	if m.Required || m.Evidence != result.Tentative || !(t.strongestSeen >= policy.Coverage.LeftSigma) {
		return false
	}
	d := w.doubts(t, m)
	// The cell of one of those that explain its lines as well may be its own: one of these is there.
	d.cell = d.cell && !slices.ContainsFunc(m.Alternatives, func(a Alternative) bool { return a.ownCell })
	return d.against(m.placesVouch(t)) || d.places && m.Merit.MLines > 0
}

// mayDiffer reports whether the phase of a match may have another cell and still be named: it forms solid solutions, and where one number
// moves all its lines, so that any phase of its type would meet them, the elements of the specimen were stated.
func (m *Match) mayDiffer() bool { return m.Phase.SolidSolution && (m.cellNumbers > 1 || m.stated) }

// outnumbered reports whether what is left of the scan may have the lines of a match: peaks of about their strength, and as many.
func (w whole) outnumbered(t tally, m *Match) bool {
	return !m.Required && w.contested(m) && len(w.coverage.Left) >= t.pieces
}

// placesVouch reports whether the places of the lines of a match leave no doubt that its cell is there: many more peaks than the cell
// has numbers lie where they should. One number moves all lines of a cubic phase, so that every phase of its type would meet them: its cell
// must be its own.
func (m *Match) placesVouch(t tally) bool {
	return (m.cellNumbers > 1 && !m.atBound || !m.shifted()) && t.pieces-m.cellNumbers >= policy.Cells.VouchingPeaks && m.Merit.M >= policy.Cells.VouchingMerit && !t.tooManyMissing()
}

// contested reports whether the lines of a match may belong to what is left of the scan: a peak of about their strength is left, or
// it has none of the elements that were stated, only those of air and etch, or it is of the preparation and nothing else was found: a
// specimen is not made of what polished it.
func (w whole) contested(m *Match) bool {
	if len(w.coverage.Left) > 0 && !m.Required && (m.unstated || m.outsider && w.noneStated) {
		return true
	}
	var own, left float64
	for _, l := range m.Lines {
		if l.Own() {
			own = math.Max(own, l.Observed)
		}
	}
	for _, l := range w.coverage.Left {
		left = math.Max(left, l.Area)
	}
	return left > policy.Evidence.Contested*own
}

// whole returns what the present matches are judged by.
func (s *search) whole() whole { return whole{s.threshold, s.coverage, s.noneStated(), s.stopped > 0} }

// noneStated reports whether no match has one of the stated elements.
func (s *search) noneStated() bool {
	return !slices.ContainsFunc(s.matches, func(m Match) bool { return !m.unstated && !s.outside[m.Index] })
}

// unstated reports whether a phase has only elements of air and etch, where elements were stated.
func (f Filter) unstated(e refdata.Entry) bool {
	return f.Elements != (refdata.ElementSet{}) && !e.Elements.Meets(f.Elements) && !f.outside(e)
}

// shifted reports whether an edge differs from that of the reference by more than specimens of one phase do, beyond its uncertainty, or where
// its cell lies is not known.
func (m *Match) shifted() bool {
	return m.atBound || !ownCell(m.shift, m.shiftU)
}

// otherIntensities reports whether the lines of a match have other intensities than its reference while its cell is another, too. A phase of
// the same type has all its lines: only intensities tell it from one whose cell has changed, unless the elements were stated.
func (m *Match) otherIntensities() bool {
	return m.shifted() && !m.stated && m.scatter > policy.Lines.OtherIntensities
}

// ownCell reports whether the change of an edge, with its standard uncertainty, is no more than what specimens of one phase differ by.
func ownCell(shift, u float64) bool { return math.Abs(shift)-2*u <= policy.Cells.Own }

// cellVouched reports whether the lines of a match vouch for it although its cell differs: a specimen that is warm, or in which other atoms take
// places, has another cell, but the same lines. The edges must have kept their ratios, and nothing may lack or be left: a near relative, such as one
// whose atoms are ordered, has the same lines and some weak ones more.
func (w whole) cellVouched(t tally, m *Match) bool {
	return m.placesVouch(t) && t.missing == 0 && len(w.coverage.Left) == 0 && w.coverage.Share >= policy.Cells.VouchingShare && math.Abs(m.shift) <= policy.Cells.Farthest && m.ratios <= policy.Cells.Same
}

// edgeRatios returns the most by which the ratio of two edges of phase number p differs from that of the reference, relative.
func edgeRatios(f *pattern.Fit, p int) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
		if q, ok := f.Get(k, p); ok {
			lo, hi = math.Min(lo, q.Value), math.Max(hi, q.Value)
		}
	}
	return math.Max(0, hi-lo)
}

// farthestEdge returns the relative change of the edge of phase number p that is farthest from its own beyond its uncertainty, with that.
func farthestEdge(f *pattern.Fit, p int) (shift, u float64) {
	most := math.Inf(-1)
	for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
		if q, ok := f.Get(k, p); ok {
			if beyond := math.Abs(q.Value) - 2*q.U; !(beyond <= most) {
				most, shift, u = beyond, q.Value, q.U
			}
		}
	}
	return shift, u
}

// cellNumbers returns how many numbers of the cell of phase number p the scan tells: those whose uncertainty is far below what
// was allowed them.
func cellNumbers(f *pattern.Fit, p int) (n int) {
	for k := pattern.CellA; k <= pattern.CellGamma; k++ {
		if q, ok := f.Get(k, p); ok && q.Free && q.U < q.Prior.Sigma/2 {
			n++
		}
	}
	return n
}
