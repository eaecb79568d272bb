package identify

import (
	"context"
	"slices"

	"phasetally/xrd/result"
)

// dropOutsiders takes out the phases beyond the stated elements, which only the watch-list let in, whose lines are not beyond
// doubt; the least significant half first, since others may hold without them.
func (s *search) dropOutsiders(ctx context.Context) error {
	for {
		s.coverage = Judge(s.fit, s.found)
		var failing []int
		for p := range s.matches {
			if m := &s.matches[p]; s.outside[m.Index] && !m.Required && !s.beyondDoubt(p) {
				failing = append(failing, p)
			}
		}
		if len(failing) == 0 {
			break
		}
		s.drop(failing, func(m *Match) float64 { return m.Significance })
		if err := s.settle(ctx); err != nil {
			return err
		}
	}
	for p := range s.matches {
		s.matches[p].Outside = s.outside[s.matches[p].Index]
	}
	return nil
}

// beyondDoubt reports whether match p would be established if no other phase of the watch-list explained its lines as well.
func (s *search) beyondDoubt(p int) bool {
	m := s.matches[p]
	m.Alternatives = slices.DeleteFunc(slices.Clone(m.Alternatives), func(a Alternative) bool { return s.outside[a.Index] })
	t := s.look(p, &m)
	return s.whole().evidenceLevel(t, &m) == result.Established
}
