package identify

import (
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// Given returns an explanation by all phases of the job's collection, without fit and words before Take, and the setup of a
// quick fit of them: everything that rises above a first look is doubted there, since phases may be missing. Errors are as
// those of Run.
func Given(job Job) (*Outcome, pattern.Setup, error) {
	set := job.Setup
	if len(set.TwoTheta) < xrd.MinPoints {
		return nil, set, fmt.Errorf("%w: %d points, at least %d are needed", pattern.ErrSetup, len(set.TwoTheta), xrd.MinPoints)
	}
	out := &Outcome{Threshold: Threshold(0), found: job.peaks()}
	for i := range job.Collection.Len() {
		p, err := job.Collection.Phase(i, job.Beam)
		if err != nil {
			return nil, set, err
		}
		set.Phases = append(set.Phases, p)
		out.Members = append(out.Members, Member{Index: i, Phase: p, Required: true})
	}
	residual := firstLook(set)
	for i, y := range set.Intensity {
		residual[i] = y - residual[i]
	}
	set.Sigma = firstSigma(set)
	set.Doubt = doubt(set, residual, nil)
	return out, set, nil
}

// Take finds words and reasons of the members from a fit of their phases.
func (o *Outcome) Take(fit *pattern.Fit) {
	o.Fit = fit
	s := &search{fit: fit, members: o.Members, threshold: o.Threshold, found: o.found}
	s.judge()
	o.Coverage = s.coverage
}
