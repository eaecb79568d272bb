package identify

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// isotypes returns the names of known phases that are not in the reference data and have the lines of a match, or all that are seen of it: this
// scan cannot tell which of them is there, as with niobium and tantalum, or two polytypes of SiC. Where the elements were stated,
// only phases of these are asked; a phase that was asked for is none of this search's.
func (s *search) isotypes(m *Match) []string {
	if m.Required {
		return nil
	}
	own := s.job.Collection.Entry(m.Index)
	var out []string
	for i := range s.job.Known.Len() {
		e := s.job.Known.Entry(i)
		if s.elementsGiven() && !s.job.Filter.inside(e) || !alike(own, e) && e.Elements != own.Elements {
			continue
		}
		p, err := s.job.Known.Phase(i, s.job.Beam)
		switch {
		case err != nil:
		case e.Elements == own.Elements:
			if s.polytype(m, p) {
				out = append(out, e.Name)
			}
		case s.screen.SameLines(m.Phase, p, 2*policy.Cells.Same) && !has(s.job.Collection, e):
			out = append(out, e.Name)
		}
	}
	return out
}

// elsewhere returns the names of known phases whose elements were not all stated and whose own cell is where that of a cubic match was fitted, far from its
// own: all that speaks for the match is what was stated then. NiAl has all lines of FeAl, 0.75 % away.
func (s *search) elsewhere(m *Match) (names []string) {
	if m.Required || !s.elementsGiven() || m.cellNumbers > 1 || !m.shifted() || m.Phase.Cell == nil {
		return nil
	}
	for _, c := range []Collection{s.job.Known, s.job.Collection} {
		for i := range c.Len() {
			e := c.Entry(i)
			if s.job.Filter.inside(e) || e.Preparation != "" || slices.Contains(names, e.Name) {
				continue
			}
			p, err := c.Phase(i, s.job.Beam)
			if err == nil && p.Cell != nil && p.System == m.Phase.System && ownCell(m.Phase.Cell.A*(1+m.shift)/p.Cell.A-1, m.shiftU) &&
				s.screen.SameLines(m.Phase, p, 2*policy.Cells.Farthest) {
				names = append(names, e.Name)
			}
		}
	}
	return names
}

// polytype reports whether a phase of the elements of a match is another one, has the lines that are seen of it, and is not in the reference data.
func (s *search) polytype(m *Match, p refdata.Phase) bool {
	x := s.fit.Setup.TwoTheta
	if sameCell(m.Phase.Cell, p.Cell) || !m.seenIn(p, s.peakPlaces(nil).spacings(), x[0], x[len(x)-1]) {
		return false
	}
	own := s.job.Collection.Entry(m.Index).Elements
	for i := range s.job.Collection.Len() {
		if s.job.Collection.Entry(i).Elements != own {
			continue
		}
		if q, err := s.job.Collection.Phase(i, s.job.Beam); err != nil || sameCell(q.Cell, p.Cell) {
			return false
		}
	}
	return true
}

// sameCell reports whether two cells are of one phase; also where one is not known, which tells nothing.
func sameCell(a, b *refdata.Cell) bool {
	near := func(x, y float64) bool { return math.Abs(x/y-1) < 2*policy.Cells.Farthest }
	return a == nil || b == nil || near(a.A, b.A) && near(a.B, b.B) && near(a.C, b.C)
}

// seenIn reports whether a phase has all lines of a match's own that are seen, but for as little as may lack in an established one, and between two angles, degrees 2θ, no strong one where the match has
// none that may be there, nor the scan a peak, given by their spacings, Å: so have polytypes, and other orders of the same atoms.
func (m *Match) seenIn(p refdata.Phase, peaks []float64, lo, hi float64) bool {
	near := func(a, b float64) bool { return math.Abs(a/b-1) < 2*policy.Cells.Same }
	var all, lacks float64
	for _, l := range m.Lines {
		if l.Own() && l.Seen() {
			all += l.Observed
			if !slices.ContainsFunc(p.Lines, func(o refdata.Line) bool { return near(o.D, l.Line.D) && o.Intensity >= 100*policy.Deciding.Line }) {
				lacks += l.Observed
			}
		}
	}
	met := func(o refdata.Line) bool {
		return slices.ContainsFunc(peaks, func(d float64) bool { return near(o.D, d) }) ||
			slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return near(o.D, l.Line.D) && (l.Seen() || !l.Own()) })
	}
	return all > 0 && lacks <= policy.Evidence.EstablishedAbsent*all && !slices.ContainsFunc(p.Lines, func(o refdata.Line) bool {
		return o.Intensity >= 100*policy.Evidence.Contested && o.TwoTheta > lo && o.TwoTheta < hi && !met(o)
	})
}

// alike reports whether one of the strong lines of b may be the strongest of a.
func alike(a, b refdata.Entry) bool {
	return len(a.Strong) > 0 && slices.ContainsFunc(b.Strong, func(l refdata.StrongLine) bool {
		return math.Abs(float64(l.D/a.Strong[0].D)-1) < 2*policy.Cells.Same
	})
}

// has reports whether a collection has a substance: the same elements, and its strongest line.
func has(c Collection, e refdata.Entry) bool {
	for i := range c.Len() {
		if o := c.Entry(i); o.Elements == e.Elements && alike(e, o) {
			return true
		}
	}
	return false
}
