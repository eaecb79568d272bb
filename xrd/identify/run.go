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
		if s.job.likely && !(s.share() >= policy.Coverage.NoneBelow) {
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
	if s.job.likely && !(s.share() >= policy.Evidence.EstablishedShare) {
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
