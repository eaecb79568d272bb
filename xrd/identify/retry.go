package identify

import (
	"cmp"
	"context"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/peaks"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// retry tries again every phase that may be the one of a strong peak that is left: alone, and in pairs, each with its cell
// placed so that a strong line meets the peak. Screening sees such phases badly where phases with cells close to theirs have taken
// their lines in, or left none.
func (s *search) retry(ctx context.Context) error {
	for range policy.Effort.Retries {
		if s.exhausted() || s.fit == nil || len(s.matches) == 0 || len(s.matches) >= policy.Effort.Phases {
			return nil
		}
		coverage := Judge(s.fit, s.found)
		left := strong(coverage.Left, s.found)
		list, err := s.forLeft(left)
		if err != nil || len(list) == 0 {
			return err
		}
		best, err := s.bestOfRetries(ctx, list, coverage.Share)
		if err != nil || best == nil {
			return err
		}
		for _, c := range best.added {
			s.wide[c.phase.ID] = true
			s.matches = append(s.matches, Match{Index: c.index, Phase: c.phase})
		}
		s.fit = best.fit
		if err := s.settle(ctx); err != nil {
			return err
		}
		if err := s.revise(ctx); err != nil {
			return err
		}
	}
	return nil
}

// strong returns the left peaks that are beyond doubt by their counts alone: a fit that lacks a strong phase misfits everywhere, and
// the significance of what it leaves, which counts the misfit, would hide what it lacks.
func strong(left []LeftPeak, found []peaks.Peak) []LeftPeak {
	return slices.DeleteFunc(left, func(l LeftPeak) bool { return l.Area < policy.Coverage.RetrySigma*found[l.Peak].AreaU })
}

// A retried is a fit with phases added for peaks that are left.
type retried struct {
	added    []candidate
	fit      *pattern.Fit
	deviance float64
}

// bestOfRetries fits candidates alone and, when none holds, in pairs; nil when none does.
func (s *search) bestOfRetries(ctx context.Context, list []candidate, share float64) (*retried, error) {
	var alone, pairs [][]candidate
	for i, c := range list {
		alone = append(alone, []candidate{c})
		for _, d := range list[i+1:] {
			if i < policy.Effort.RetryPairs && len(pairs) < policy.Effort.RetryPairs*(policy.Effort.RetryPairs+1)/2 {
				pairs = append(pairs, []candidate{c, d})
			}
		}
	}
	for _, sets := range [][][]candidate{alone, pairs} {
		best, err := s.fitRetries(ctx, sets, share)
		if best != nil || err != nil {
			return best, err
		}
	}
	return nil, nil
}

// fitRetries fits each set of candidates beside the matches and returns the one of least deviance that holds and saves enough.
func (s *search) fitRetries(ctx context.Context, sets [][]candidate, share float64) (*retried, error) {
	s.tell("trying %s for peaks that are left", namesOf(sets))
	residual, _ := s.unexplained()
	out := make([]retried, len(sets))
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for n, set := range sets {
		workers.Go(func() error {
			matches := slices.Clone(s.matches)
			for _, c := range set {
				matches = append(matches, Match{Index: c.index, Phase: c.phase})
			}
			start := s.setup(matches, &set[0], residual)
			for _, c := range set {
				start.Start.Values = withStretch(start.Start.Values, c.phase, c.Stretch)
			}
			fit, err := pattern.Run(ctx, start, pattern.Quick)
			out[n] = retried{added: set, fit: fit}
			return err
		})
	}
	if err := workers.Wait(); err != nil {
		return nil, err
	}
	var best *retried
	for n := range out {
		r := &out[n]
		s.spend(r.fit)
		list := []attempt{{fit: s.fit}, {fit: r.fit}}
		compare(list)
		r.deviance = list[1].deviance - list[0].deviance
		if r.deviance < -policy.Deviance.Retry && progressed(share, r.fit, s.found) && s.allHold(r) && (best == nil || r.deviance < best.deviance) {
			best = r
		}
	}
	return best, nil
}

// allHold reports whether all added phases hold; their cells may be as far from their own as is tried at all.
func (s *search) allHold(r *retried) bool {
	for k := range r.added {
		p := len(s.matches) + k
		if !(significance(r.fit, p) >= s.threshold) || !supportedByLines(evidence(r.fit, p, s.found), s.found, s.threshold) ||
			!(math.Abs(cellShift(r.fit, p)) <= policy.Cells.BeyondReach*screen.Reach(r.fit.Setup.Phases[p].SolidSolution)) {
			return false
		}
	}
	return true
}

// forLeft returns the phases that explain most of the peaks that are left when one of their strong lines meets one of these.
func (s *search) forLeft(left []LeftPeak) ([]candidate, error) {
	type scored struct {
		candidate
		score float64
	}
	var list []scored
	places := s.peakPlaces(left)
	for k := range s.entries {
		e := &s.entries[k]
		if s.has(e.Index) {
			continue
		}
		if c, score := s.bestPlace(e, left, places); score > 0 {
			list = append(list, scored{c, score})
		}
	}
	slices.SortStableFunc(list, func(a, b scored) int { return cmp.Compare(b.score, a.score) })
	var out []candidate
	for _, c := range list[:min(len(list), policy.Effort.RetryShortlist)] {
		p, err := s.job.Collection.Phase(c.index, s.job.Beam)
		if err != nil {
			return nil, err
		}
		c.phase = p
		out = append(out, c.candidate)
	}
	return out, nil
}

// bestPlace returns a phase with its cell where one of its strong lines meets a peak that is left and it explains most of all of
// them, and how much that is.
func (s *search) bestPlace(e *screen.Entry, left []LeftPeak, places peakPlaces) (best candidate, most float64) {
	for _, l := range left {
		for _, line := range e.Strong {
			if float64(line.Intensity) < policy.Coverage.RetryLine {
				continue
			}
			stretch := places.spacing(l.TwoTheta)/float64(line.D) - 1
			if math.Abs(stretch) > screen.Reach(e.SolidSolution) {
				continue
			}
			scale := l.Area / float64(line.Intensity)
			if score := places.score(e.Strong, stretch, scale); score > most {
				most = score
				best = candidate{index: e.Index, Trial: screen.Trial{Displacement: s.displacement(), Stretch: stretch, Scale: 100 * scale}}
			}
		}
	}
	return best, most
}
