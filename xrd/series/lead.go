package series

import (
	"context"
	"fmt"

	"phasetally/xrd/analysis"
)

// readable reports whether a scan can be read.
func (s *series) readable(i int) (ok bool) {
	defer func() { _ = recover() }() // told when its turn comes
	_, err := s.Load(i)
	return err == nil
}

// lead analyses the first scan that can be read, from whose fit all others start.
func (s *series) lead(ctx context.Context, searched bool) {
	defer func() {
		if p := recover(); p != nil {
			s.ledErr = fmt.Errorf("%w: %v", errUnexpected, p)
		}
	}()
	job, err := s.job(s.first, searched)
	if err != nil {
		s.ledErr = err
		return
	}
	s.led, s.start, s.ledErr = analysis.Lead(ctx, job)
}
