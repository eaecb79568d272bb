package identify

import (
	"cmp"
	"context"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// candidate is a phase with its best trial in this round.
type candidate struct {
	index int
	phase refdata.Phase
	screen.Trial
}

// candidates screens by strongest lines, then by all lines, and returns the best first.
func (s *search) candidates(v *screen.View, least float64) ([]candidate, error) {
	found := s.screen.Best(v, least, policy.Effort.Shortlist, s.has)
	list := make([]candidate, len(found))
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for n := range list {
		workers.Go(func() error {
			p, err := s.job.Collection.Phase(found[n].Index, s.job.Beam)
			if err != nil {
				return err
			}
			list[n] = candidate{found[n].Index, p, v.Try(p)}
			return nil
		})
	}
	if err := workers.Wait(); err != nil {
		return nil, err
	}
	byGain(list)
	return list, nil
}

func byGain(c []candidate) {
	slices.SortStableFunc(c, func(a, b candidate) int { return cmp.Compare(b.Gain, a.Gain) })
}

// rivalsOf returns the first candidate and those after it that gain nearly as much.
func rivalsOf(list []candidate) []candidate {
	n := 1
	for n < len(list) && n < policy.Effort.Rivals && list[n].Gain > policy.Deviance.RivalGain*list[0].Gain {
		n++
	}
	return list[:n]
}

// attempt is a candidate with the fit of the whole pattern that includes it.
type attempt struct {
	candidate
	fit      *pattern.Fit
	deviance float64
	holds    bool
}

// try fits each candidate beside the matches, unless done has it from before, and returns the best that holds, nil when none does;
// done is filled.
func (s *search) try(ctx context.Context, list []candidate, residual []float64, done map[int]attempt) (*attempt, error) {
	out := make([]attempt, len(list))
	s.tell("trying %s", names(list))
	share := Judge(s.fit, s.found).Share
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for n, c := range list {
		if a, ok := done[c.index]; ok {
			out[n] = a
			continue
		}
		workers.Go(func() error {
			matches := append(slices.Clone(s.matches), Match{Index: c.index, Phase: c.phase})
			fit, err := pattern.Run(ctx, s.setup(matches, &c, residual), pattern.Quick)
			if err != nil {
				return err
			}
			last := len(s.matches)
			a := attempt{candidate: c, fit: fit}
			a.holds = s.holds(fit, last, s.asked) && progress(share, fit, s.found) && !s.byChance(a)
			out[n] = a
			return nil
		})
	}
	if err := workers.Wait(); err != nil {
		return nil, err
	}
	for _, a := range out {
		if _, ok := done[a.index]; !ok {
			s.spend(a.fit)
		}
		done[a.index] = a
	}
	compare(out)
	return bestOf(out), nil
}

// progress reports whether a fit explains enough beyond a share of the peak area.
func progress(share float64, f *pattern.Fit, found []peaks.Peak) bool {
	return share >= policy.Search.MostlyExplained || progressed(share, f, found)
}

// holds reports whether phase number p of a fit stands a bar above nothing and has lines and a cell that speak for it.
func (s *search) holds(f *pattern.Fit, p int, least float64) bool {
	return significance(f, p) >= least && supportedByLines(evidence(f, p, s.found), s.found, s.threshold) &&
		(cellAllowed(f, p) || s.wide[f.Setup.Phases[p].ID])
}

// compare gives every attempt its deviance, all with the variances of the closest fit. Where whole lines lie off by more than
// those allow, as texture and few grains make them, differences say as much less.
func compare(list []attempt) {
	least := list[0].fit
	for _, a := range list[1:] {
		if sumSquares(a.fit, a.fit.Noise) < sumSquares(least, least.Noise) {
			least = a.fit
		}
	}
	best, scale := sumSquares(least, least.Variance), lineScatter(least)
	for n := range list {
		list[n].deviance = best + (sumSquares(list[n].fit, least.Variance)-best)/scale + penalty(list[n].fit)
	}
}

// bestOf returns the attempt of least deviance among those that hold, nil when none does.
func bestOf(list []attempt) *attempt {
	var best *attempt
	for n := range list {
		if a := &list[n]; a.holds && (best == nil || a.deviance < best.deviance) {
			best = a
		}
	}
	return best
}

// progressed reports whether a fit explains enough of what was unexplained, however little that was.
func progressed(share float64, f *pattern.Fit, found []peaks.Peak) bool {
	return Judge(f, found).Share-share >= policy.Search.LeastProgress*(1-share)
}
