package analysis

import (
	"context"
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// A start is what the fit of one scan tells that of another like it: parameters and texture axes.
type start struct {
	radiation xrd.Radiation
	values    map[pattern.Key]float64
	poles     map[string][][3]int // by id of the phase
}

// firmStart is the significance of a phase from which its cell and widths are a start for another scan: what a fit does
// with a phase that is hardly there may be anything.
const firmStart = 20.0

// start returns what the fit of the scan tells others, nil when it has not come to an end.
func (r *run) start() *start {
	if r.outcome == nil || r.outcome.Fit == nil || r.outcome.Fit.Status != leastsq.Converged {
		return nil
	}
	fit := r.outcome.Fit
	s := &start{radiation: r.job.Radiation, values: fit.Values(), poles: map[string][][3]int{}}
	for i, m := range r.outcome.Members {
		if m.Significance >= firmStart {
			if fit.Setup.Poles != nil {
				s.poles[m.Phase.ID] = fit.Setup.Poles[i]
			}
			continue
		}
		for k := range s.values {
			if k.ID == m.Phase.ID {
				delete(s.values, k)
			}
		}
	}
	return s
}

// apply lets the fit of a setup begin there; nil, and the fit of a scan with another tube, change nothing.
func (s *start) apply(set *pattern.Setup) {
	if s == nil || s.radiation != set.Radiation {
		return
	}
	set.Start = pattern.Start{Values: s.values, From: pattern.LikeFit}
	set.Poles = make([][][3]int, len(set.Phases))
	for i, p := range set.Phases {
		set.Poles[i] = s.poles[p.ID]
	}
}

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
	r := &run{job: job}
	if s.led, s.ledErr = r.all(ctx); s.ledErr == nil {
		s.start = r.start()
	}
}
