package identify

import (
	"context"
	"fmt"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// Run explains the job's scan. An Explanation without matches explains nothing. Errors come from the context or from
// a collection that cannot give a phase.
func Run(ctx context.Context, job Job) (*Explanation, error) {
	if len(job.Setup.TwoTheta) < xrd.MinPoints {
		return nil, fmt.Errorf("%w: %d points, at least %d are needed", pattern.ErrSetup, len(job.Setup.TwoTheta), xrd.MinPoints)
	}
	s, required := newSearch(job)
	if err := s.require(ctx, required); err != nil {
		return nil, err
	}
	for pass := range policy.Effort.Passes {
		before := len(s.matches)
		s.asked = s.threshold
		if pass == 0 {
			s.asked = math.Max(s.asked, policy.Search.FirstPass)
		}
		if err := s.grow(ctx); err != nil {
			return nil, err
		}
		if s.job.tubeKnown && !(s.share() >= policy.Coverage.NoneBelow) {
			break // with the tube of the scan, strong phases explain most of it before any is fitted fully
		}
		if pass > 0 && len(s.matches) == before {
			break
		}
		s.forgive()
		if len(s.matches) == 0 {
			continue
		}
		if err := s.settle(ctx); err != nil {
			return nil, err
		}
	}
	if s.job.tubeKnown && !(s.share() >= policy.Evidence.EstablishedShare) {
		s.judge() // it was asked only whether this tube explains the scan
		return s.explanation(nil), nil
	}
	for _, step := range []func(context.Context) error{s.reviseUnlessLittle, s.retry, s.dropByChance, s.dropOutsiders} {
		if err := step(ctx); err != nil {
			return nil, err
		}
	}
	s.judge()
	better, err := s.checkRadiation(ctx)
	if err != nil {
		return nil, err
	}
	return s.explanation(better), nil
}

// explanation is what has been found.
func (s *search) explanation(better *BetterRadiation) *Explanation {
	left, one := s.leftOver(), 0
	rest := s.rest(left)
	if rest != nil {
		one = rest.Peaks
	}
	return &Explanation{Fit: s.fit, Matches: s.matches, Coverage: s.coverage, Tried: len(s.entries), Watched: s.watched, Threshold: s.threshold,
		Radiation: better, Rest: rest, RestElement: s.restElement(left, one), Stopped: s.stopped, found: s.found}
}

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
		s.job.tell("stopping the search after %d fits", s.fits)
	}
	return s.stopped > 0
}

// reviseUnlessLittle revises an explanation. What explains little is none, whichever of its candidates explains a little more: that would cost
// most of the time of a scan whose phases are not in the collection.
func (s *search) reviseUnlessLittle(ctx context.Context) error {
	if !(s.share() >= policy.Coverage.NoneBelow) {
		return nil
	}
	s.job.tell("trying each phase without and against others")
	return s.revise(ctx)
}
