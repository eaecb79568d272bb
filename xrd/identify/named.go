package identify

import (
	"context"
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// RunNamed explains a scan by all phases of the job's collection; nothing is searched. Its fit is a quick one from the start
// and the texture axes of the job's setup, and its members have no words before Take. Errors are as those of Run.
func RunNamed(ctx context.Context, job Job) (*Outcome, error) {
	set := job.Setup
	if len(set.TwoTheta) < xrd.MinPoints {
		return nil, fmt.Errorf("%w: %d points, at least %d are needed", pattern.ErrSetup, len(set.TwoTheta), xrd.MinPoints)
	}
	out := &Outcome{Threshold: Threshold(0)}
	for i := range job.Collection.Len() {
		p, err := job.Collection.Phase(i, job.Beam)
		if err != nil {
			return nil, err
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
	var err error
	out.Fit, err = pattern.Run(ctx, set, pattern.Quick)
	return out, err
}

// Take finds words and reasons of the members from a fit of their phases.
func (o *Outcome) Take(fit *pattern.Fit) {
	o.Fit = fit
	(&search{fit: fit, members: o.Members, threshold: o.Threshold}).judge()
}
