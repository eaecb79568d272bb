package identify

import (
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// Given returns an explanation by all phases of the job's collection, without fit and evidence before Take, and the setup of a
// quick fit of them: everything that rises above a first look is doubted there, since phases may be missing. Errors are as
// those of Run.
func Given(job Job) (*Explanation, pattern.Setup, error) {
	set := job.Setup
	if len(set.TwoTheta) < xrd.MinPoints {
		return nil, set, fmt.Errorf("%w: %d points, at least %d are needed", pattern.ErrSetup, len(set.TwoTheta), xrd.MinPoints)
	}
	out := &Explanation{Threshold: Threshold(0), found: job.peaks()}
	for i := range job.Collection.Len() {
		p, err := job.Collection.Phase(i, job.Beam)
		if err != nil {
			return nil, set, err
		}
		set.Phases = append(set.Phases, p)
		out.Matches = append(out.Matches, Match{Index: i, Phase: p, Required: true, stated: true})
	}
	residual := firstLook(set)
	for i, y := range set.Intensity {
		residual[i] = y - residual[i]
	}
	set.Sigma = firstSigma(set)
	set.ExtraVariance = extraVariance(set, residual, nil)
	return out, set, nil
}

// Take finds evidence and reasons of the matches from a fit of their phases.
func (o *Explanation) Take(fit *pattern.Fit) {
	o.Fit = fit
	s := &search{fit: fit, matches: o.Matches, threshold: o.Threshold, found: o.found, stopped: o.Stopped}
	s.judge()
	o.Coverage = s.coverage
}
