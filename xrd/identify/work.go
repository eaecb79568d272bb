package identify

import "phasetally/xrd/pattern"

// spend counts a fit.
func (s *search) spend(f *pattern.Fit) {
	if f != nil {
		s.fits++
		s.work += f.Work
	}
}

// exhausted reports whether the search has taken the work that it may, which is counted so that it ends at the same fit on any machine. It is asked
// where the search would go on, never where it must come to an end in itself.
func (s *search) exhausted() bool {
	most := policy.Effort.Work
	if s.job.Work > 0 {
		most = s.job.Work
	}
	if s.stopped == 0 && s.work > most {
		s.stopped = s.fits
		s.tell("stopping the search after %d fits", s.fits)
	}
	return s.stopped > 0
}
