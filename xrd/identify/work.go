package identify

import (
	"math"

	"phasetally/xrd/pattern"
)

// spend counts a fit.
func (s *search) spend(f *pattern.Fit) {
	if f != nil {
		s.fits++
		s.work += f.Work
	}
}

// mostWork is the work that the search may take.
func (s *search) mostWork() float64 {
	most := policy.Effort.Work
	if s.job.Work > 0 {
		most = s.job.Work
	}
	if s.job.OtherTube {
		most *= policy.Effort.TubeShare
	}
	return most
}

// allowance is the work that one full fit may take: what is left, or a part of the whole for one that the search has to end with.
func (s *search) allowance() float64 {
	return math.Max(s.mostWork()-s.work, policy.Effort.LastFit*s.mostWork())
}

// exhausted reports whether the search has taken the work that it may, which is counted so that it ends at the same fit on any machine. It is asked
// where the search would go on, never where it must come to an end in itself.
func (s *search) exhausted() bool {
	if s.stopped == 0 && s.work >= s.mostWork() {
		s.stopped = s.fits
		s.tell("stopping the search after %d fits", s.fits)
	}
	return s.stopped > 0
}
