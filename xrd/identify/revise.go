package identify

import (
	"context"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// reviseUnlessLittle revises an explanation. What explains little is none, whichever of its candidates explains a little more: that would cost
// most of the time of a scan whose phases are not in the collection.
func (s *search) reviseUnlessLittle(ctx context.Context) error {
	if !(s.share() >= policy.Coverage.NoneBelow) {
		return nil
	}
	return s.revise(ctx)
}

// revise asks of every match what else explains its lines. A phase that does so better takes its place; one that does
// so nearly as well is kept as an alternative. Phases that have come in early, when much was unexplained, are so judged
// again with everything else in place.
func (s *search) revise(ctx context.Context) error {
	for swaps := 0; ; swaps++ {
		better := -1
		for p := 0; p < len(s.matches) && better < 0; p++ {
			if s.exhausted() {
				return nil
			}
			if s.matches[p].Required {
				continue
			}
			rivals, err := s.rivals(ctx, p)
			if err != nil {
				return err
			}
			base := rivals[0].deviance // the match itself
			shift := cellShift(s.fit, p)
			if rivals[0].fit != nil {
				shift = cellShift(rivals[0].fit, p)
			}
			s.matches[p].Alternatives = nil
			s.matches[p].Same = nil
			for _, r := range rivals[1:] {
				d := r.deviance - base
				switch {
				case s.sameSubstance(rivals[0], r):
					s.matches[p].Same = append(s.matches[p].Same, r.phase.ID)
				case swaps < policy.Effort.Swaps && takesPlace(r.holds, d+s.elementsCost(s.matches[p].Index, r.index), cellShift(r.fit, p), shift):
					shift = cellShift(r.fit, p)
					better = p
					base = r.deviance
					s.matches[p] = Match{Index: r.index, Phase: r.phase}
				case d < policy.Deviance.Near || s.twins(p, rivals[0], r):
					s.matches[p].Alternatives = append(s.matches[p].Alternatives, s.alternative(p, rivals[0], r))
				}
			}
		}
		if better < 0 {
			return nil
		}
		if err := s.settle(ctx); err != nil {
			return err
		}
	}
}

// elementsCost is what the stated elements add to the deviance of a rival over a match.
func (s *search) elementsCost(match, rival int) float64 {
	switch {
	case s.outside[rival] && !s.outside[match]:
		return policy.Deviance.Outsider
	case s.outside[match] && !s.outside[rival]:
		return -policy.Deviance.Outsider
	}
	return 0
}

// sameSubstance reports whether two attempts are of one substance that the collection has twice, as two libraries may: the same
// elements, and the same lines at the same places.
func (s *search) sameSubstance(a, b attempt) bool {
	return s.job.Collection.Entry(a.index).Elements == s.job.Collection.Entry(b.index).Elements &&
		s.screen.SameLines(a.phase, b.phase, policy.Cells.SameSubstance)
}

// takesPlace reports whether a rival is preferred: by what its deviance is above that of a match, but where that says little, and
// the cell of one is the nearer to its own beyond doubt, by the cell. One that would not hold is not: both would be lost.
func takesPlace(holds bool, deviance, rival, match float64) bool {
	if !holds {
		return false
	}
	nearer := math.Abs(match) - math.Abs(rival)
	if math.Abs(deviance) < policy.Deviance.Near && math.Abs(nearer) > policy.Chance.Closest {
		return nearer > 0
	}
	return deviance < 0
}

// rivals returns attempts at explaining the pattern with another phase in place of match p; the first is the match.
func (s *search) rivals(ctx context.Context, p int) ([]attempt, error) {
	residual, variance := s.unexplained()
	for i, c := range s.fit.Curves[p] {
		residual[i] += c
	}
	v, match := s.view(residual, variance), s.matches[p]
	s.tell("trying others in place of %s", match.Phase.Name)
	e := s.entryOf(match.Index)
	own := candidate{match.Index, match.Phase, v.Try(match.Phase)}
	least := math.Max(s.threshold*s.threshold, policy.Deviance.InPlaceStrong*v.TryStrong(e.Strong, e.SolidSolution).Gain)
	list, err := s.candidates(v, least)
	if err != nil {
		return nil, err
	}
	list = slices.DeleteFunc(list, func(c candidate) bool { return c.Gain < policy.Deviance.InPlace*own.Gain })
	list = append([]candidate{own}, list[:min(policy.Effort.RivalFits, len(list))]...)
	if len(list) == 1 {
		return []attempt{{candidate: own}}, nil
	}
	out := make([]attempt, len(list))
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for n, c := range list {
		workers.Go(func() error {
			matches := slices.Clone(s.matches)
			matches[p] = Match{Index: c.index, Phase: c.phase}
			set := s.setup(matches, nil, s.leftover())
			if set.Poles != nil {
				set.Poles[p] = nil // a texture fitted to the match must not speak against its rivals
			}
			if n > 0 {
				set.Start.Values = inPlaceOf(match.Phase, withStretch(set.Start.Values, c.phase, c.Stretch), c.phase)
			}
			fit, err := pattern.Run(ctx, set, pattern.Quick)
			if err != nil {
				return err
			}
			out[n] = attempt{candidate: c, fit: fit, holds: s.holds(fit, p, s.threshold)}
			return nil
		})
	}
	if err := workers.Wait(); err != nil {
		return nil, err
	}
	for _, a := range out {
		s.spend(a.fit)
	}
	compare(out)
	return out, nil
}

// twins reports whether two attempts at match p have the same lines, both with the cells of their references: how well
// intensities fit does not tell them apart, because few grains and texture change those as much.
func (s *search) twins(p int, a, b attempt) bool {
	ea, eb := cellShift(a.fit, p), cellShift(b.fit, p)
	if !(math.Abs(ea) <= policy.Cells.Same && math.Abs(eb) <= policy.Cells.Same) {
		return false
	}
	// Part of a change of cell hides in the displacement of a fit.
	return s.screen.SameLines(a.phase, b.phase, 2*policy.Cells.Same)
}

// inPlaceOf lets a phase start with the widths of the one that it replaces; values is changed and returned.
func inPlaceOf(match refdata.Phase, values map[pattern.Key]float64, p refdata.Phase) map[pattern.Key]float64 {
	for _, k := range []pattern.Kind{pattern.Size, pattern.Strain} {
		values[pattern.Key{Kind: k, ID: p.ID}] = values[pattern.Key{Kind: k, ID: match.ID}]
	}
	return values
}

// alternative describes a rival of match number p.
func (s *search) alternative(p int, match, rival attempt) Alternative {
	x := s.job.Setup.TwoTheta
	beam := s.job.Beam
	beam.MaxTwoTheta = 0 // what decides may lie beyond the scan
	own, err := s.job.Collection.Phase(match.index, beam)
	other, err2 := s.job.Collection.Phase(rival.index, beam)
	if err != nil || err2 != nil {
		own, other = match.phase, rival.phase
	}
	q := inquiry{ins: s.instrument(), lo: x[0], hi: x[len(x)-1]}
	shift, u := farthestEdge(rival.fit, p)
	return Alternative{rival.index, rival.phase.ID, rival.phase.Name, rival.Gain / match.Gain, q.decide(own, other), ownCell(shift, u)}
}
