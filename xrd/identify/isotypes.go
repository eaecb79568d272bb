package identify

import (
	"math"
	"slices"

	"phasetally/refdata"
)

// isotypes returns the names of known phases that are not in the reference data and have the lines of a match: this scan cannot tell which
// of them is there, as with niobium and tantalum. Where the elements were stated, or the phase was asked for, that decides.
func (s *search) isotypes(m *Match) []string {
	if m.Required || s.elementsGiven() {
		return nil
	}
	own := s.job.Collection.Entry(m.Index)
	var out []string
	for i := range s.job.Known.Len() {
		e := s.job.Known.Entry(i)
		if !alike(own, e) {
			continue
		}
		p, err := s.job.Known.Phase(i, s.job.Beam)
		if err == nil && s.screen.SameLines(m.Phase, p, 2*policy.Cells.Same) && !has(s.job.Collection, e) {
			out = append(out, e.Name)
		}
	}
	return out
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
