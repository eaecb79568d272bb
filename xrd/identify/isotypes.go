package identify

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"phasetally/peaks"
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
	rest := NewLeftover(s.fit)
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
		case (s.screen.SameLines(m.Phase, p, 2*policy.Cells.Same) || s.wouldDo(m, p, rest)) && !has(s.job.Collection, e):
			out = append(out, e.Name)
		}
	}
	return out
}

// wouldDo reports whether a known phase would do in the place of a weak match: it has the lines that are seen of the match, about as strong as these are,
// and none beside them that the scan would have to show, which a fit has left at their places. Of ordered alloys the lines that tell them from their
// parents are the first to drown.
func (s *search) wouldDo(m *Match, p refdata.Phase, rest Leftover) bool {
	if !m.within(p, m.shift) {
		return false
	}
	scale, ok := m.scaleOf(p)
	if !ok {
		return false
	}
	for _, o := range p.Lines {
		at, ok := s.peakPlaces(nil).angle(o.D)
		if !ok || slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return nearD(o.D, l.Line.D*(1+m.shift)) }) {
			continue
		}
		unit, fwhm := m.unitNear(at)
		left, u, ok := rest.At(peaks.Peak{TwoTheta: at, FWHM: fwhm, Eta: 0.5})
		if want := scale * unit * o.Intensity; ok && want-math.Max(left, 0) > pattern.SeenSigma*u {
			return false
		}
	}
	return true
}

// unitNear returns the area that the fit of a match gives one unit of intensity at the line nearest to an angle, and how wide that is.
func (m *Match) unitNear(twoTheta float64) (area, fwhm float64) {
	nearest := math.Inf(1)
	for _, l := range m.Lines {
		if d := math.Abs(l.TwoTheta - twoTheta); d < nearest && l.Line.Intensity > 0 {
			nearest, area, fwhm = d, l.Expected/l.Line.Intensity, l.FWHM
		}
	}
	return area, fwhm
}

// scaleOf returns the scale, over that of the match, at which a phase has the lines that are seen of it; false where these are too few, or not about as
// strong as that.
func (m *Match) scaleOf(p refdata.Phase) (scale float64, ok bool) {
	var seen, expected []float64
	for _, l := range m.Lines {
		if k := nearestLine(p.Lines, l.Line.D*(1+m.shift)); l.Own() && l.Seen() && k >= 0 {
			unit, _ := m.unitNear(l.TwoTheta)
			seen, expected = append(seen, l.Observed), append(expected, unit*p.Lines[k].Intensity)
		}
	}
	if len(seen) < policy.Evidence.ProbablePeaks {
		return 0, false
	}
	scale = floats.Sum(seen) / floats.Sum(expected)
	for i := range seen {
		if r := seen[i] / (scale * expected[i]); !(r > 1/policy.Deciding.Ratio && r < policy.Deciding.Ratio) {
			return 0, false
		}
	}
	return scale, true
}

// nearestLine returns the number of the line whose spacing is nearest to one, -1 when none is within a cell's difference.
func nearestLine(lines []refdata.Line, d float64) int {
	best, least := -1, 2*policy.Cells.Same
	for k, l := range lines {
		if off := math.Abs(l.D/d - 1); off < least {
			best, least = k, off
		}
	}
	return best
}

// wholes returns the names of known phases that are not in the reference data, that have all lines that are seen of a match, and at two of whose other
// strong lines the scan has peaks that no firm name accounts for, given by their spacings, Å: the match may be a part of what such a phase shows. MgCu2
// has lines where nickel has all of its own.
func (s *search) wholes(m *Match, unaccounted []float64) (names []string) {
	if s.job.Known == nil || m.Required || len(unaccounted) < policy.Evidence.ProbablePeaks {
		return nil
	}
	own := s.job.Collection.Entry(m.Index)
	for i := range s.job.Known.Len() {
		e := s.job.Known.Entry(i)
		if e.Elements == own.Elements || !alike(own, e) || slices.Contains(m.Isotypes, e.Name) || s.elementsGiven() && !s.job.Filter.inside(e) || has(s.job.Collection, e) {
			continue
		}
		p, err := s.job.Known.Phase(i, s.job.Beam)
		if err != nil || !m.within(p, m.shift) {
			continue
		}
		met := 0
		for _, o := range p.Lines {
			if o.Intensity >= 100*policy.Evidence.Contested && !slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return nearD(o.D, l.Line.D*(1+m.shift)) }) &&
				slices.ContainsFunc(unaccounted, func(d float64) bool { return nearD(o.D, d) }) {
				met++
			}
		}
		if met >= policy.Evidence.ProbablePeaks {
			names = append(names, e.Name)
		}
	}
	return names
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

// within reports whether a phase has all lines of a match's own that are seen, but for as little as may lack in an established one, where the cell of
// the match has grown by a relative amount.
func (m *Match) within(p refdata.Phase, growth float64) bool {
	var all, lacks float64
	for _, l := range m.Lines {
		if l.Own() && l.Seen() {
			all += l.Observed
			if !slices.ContainsFunc(p.Lines, func(o refdata.Line) bool {
				return nearD(o.D, l.Line.D*(1+growth)) && o.Intensity >= 100*policy.Deciding.Line
			}) {
				lacks += l.Observed
			}
		}
	}
	return all > 0 && lacks <= policy.Evidence.EstablishedAbsent*all
}

// nearD reports whether two spacings are one, in cells that differ as those of one substance may.
func nearD(a, b float64) bool { return math.Abs(a/b-1) < 2*policy.Cells.Same }

// seenIn reports whether a phase has the lines that are seen of a match, and between two angles, degrees 2θ, no strong one where the match has
// none that may be there, nor the scan a peak, given by their spacings, Å: so have polytypes, and other orders of the same atoms.
func (m *Match) seenIn(p refdata.Phase, peaks []float64, lo, hi float64) bool {
	met := func(o refdata.Line) bool {
		return slices.ContainsFunc(peaks, func(d float64) bool { return nearD(o.D, d) }) ||
			slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool { return nearD(o.D, l.Line.D) && (l.Seen() || !l.Own()) })
	}
	return m.within(p, 0) && !slices.ContainsFunc(p.Lines, func(o refdata.Line) bool {
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
