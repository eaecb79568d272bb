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
	if err := s.revise(ctx); err != nil {
		return nil, err
	}
	if err := s.retry(ctx); err != nil {
		return nil, err
	}
	if err := s.dropByChance(ctx); err != nil {
		return nil, err
	}
	if err := s.dropOutsiders(ctx); err != nil {
		return nil, err
	}
	s.judge()
	better, err := s.checkRadiation(ctx)
	if err != nil {
		return nil, err
	}
	return &Explanation{Fit: s.fit, Matches: s.matches, Coverage: s.coverage, Tried: len(s.entries), Watched: s.watched, Threshold: s.threshold,
		Radiation: better, Rest: s.rest(), found: s.found}, nil
}
