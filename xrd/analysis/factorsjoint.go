package analysis

import (
	"context"
	"fmt"
	"slices"

	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// What is a property of a phase, and not of its amount or its mount, is one in all mixtures that factors are fitted to, and in the scans
// that are then corrected: a factor takes up what is wrong in all of them alike, so that the same description counts, not the best of each scan.

// measure analyses mixtures, with one texture axis and one displacement parameter for each phase in all of them.
func (t *FactorTable) measure(ctx context.Context, mixtures []Mixture) ([]quantify.Weighed, error) {
	weighed := make([]quantify.Weighed, len(mixtures))
	t.Mixtures = make([]MixtureRow, len(mixtures))
	measure := func(want func(int) bool) (err error) {
		for i, m := range mixtures {
			if !want(i) {
				continue
			}
			m.Job.axes, m.Job.deltaB = t.Axes, t.DeltaB
			if weighed[i], t.Mixtures[i], err = m.measure(ctx); err != nil {
				return fmt.Errorf("%s: %w", m.Job.File, err)
			}
		}
		return nil
	}
	all := func(int) bool { return true }
	if err := measure(all); err != nil {
		return nil, err
	}
	var err error
	if t.Axes, err = jointAxes(ctx, weighed); err != nil {
		return nil, err
	}
	if err := measure(func(i int) bool { return !sharesAxes(weighed[i].Fit, t.Axes) }); err != nil {
		return nil, err
	}
	t.DeltaB = jointDeltaB(weighed)
	return weighed, measure(all)
}

// jointAxes returns the texture axis of each phase that some mixture found textured, the one that suits all mixtures together.
func jointAxes(ctx context.Context, mixtures []quantify.Weighed) (map[string][3]int, error) {
	out := map[string][3]int{}
	var fits []*pattern.Fit
	candidates := map[string][][3]int{}
	for _, m := range mixtures {
		fits = append(fits, m.Fit)
		for k, p := range m.Fit.Setup.Phases {
			if axis, ok := axisOf(m.Fit, k); ok && !slices.Contains(candidates[p.ID], axis) {
				candidates[p.ID] = append(candidates[p.ID], axis)
			}
		}
	}
	for _, f := range fits {
		for _, p := range f.Setup.Phases {
			if _, done := out[p.ID]; done || len(candidates[p.ID]) == 0 {
				continue
			}
			axis, _, err := pattern.JointAxis(ctx, fits, p, candidates[p.ID])
			if err != nil {
				return nil, err
			}
			out[p.ID] = axis
		}
	}
	return out, nil
}

// axisOf returns the texture axis of phase number k of a fit.
func axisOf(f *pattern.Fit, k int) ([3]int, bool) {
	if f.Setup.Poles == nil || len(f.Setup.Poles[k]) == 0 {
		return [3]int{}, false
	}
	return f.Setup.Poles[k][0], true
}

// sharesAxes reports whether a fit has no other texture axes than those decided.
func sharesAxes(f *pattern.Fit, decided map[string][3]int) bool {
	for k, p := range f.Setup.Phases {
		if axis, ok := axisOf(f, k); ok && axis != decided[p.ID] {
			return false
		}
	}
	return true
}

// jointDeltaB returns the change of the displacement parameter of each phase that all mixtures together tell.
func jointDeltaB(mixtures []quantify.Weighed) map[string]float64 {
	out := map[string]float64{}
	var fits []*pattern.Fit
	for _, m := range mixtures {
		fits = append(fits, m.Fit)
	}
	for _, f := range fits {
		for _, p := range f.Setup.Phases {
			if _, done := out[p.ID]; done {
				continue
			}
			if b, ok := pattern.JointDeltaB(fits, p); ok {
				out[p.ID] = b
			}
		}
	}
	return out
}

// described returns the texture axes and the displacement parameters that are decided and not found anew.
func (j Job) described() (axes map[string][3]int, deltaB map[string]float64) {
	if j.axes == nil && j.Factors != nil {
		return j.Factors.Axes, j.Factors.DeltaB
	}
	return j.axes, j.deltaB
}
