package analysis

import (
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"phasetally/refdata"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// sameCosine is the cosine between two patterns from which cells, widths and texture could only tell which is which by
// chance.
const sameCosine = 0.99

// pairTwins finds named phases whose reference patterns are the same at the resolution of the scan: the first of each is kept
// for the fit. A scan can only tell how much there is of both together.
func (p prepared) pairTwins(d diagnose.Decisions) ([]diagnose.Twin, error) {
	job := p.job
	if job.Searched {
		return nil, nil // a series keeps the phases of all its scans
	}
	ids := job.named()
	if len(job.Phases) == 0 {
		ids = append(ids, job.Filter.Require...)
	}
	set := p.setup(d)
	var twins []diagnose.Twin
	var kept []refdata.Phase
	var curves [][]float64
	for _, id := range ids {
		i, err := Find(job.Collection, id)
		if err != nil {
			return nil, err
		}
		id = job.Collection.Entry(i).ID // named twice, as a standard and by --require, it is no twin of itself
		if slices.ContainsFunc(kept, func(p refdata.Phase) bool { return p.ID == id }) {
			continue
		}
		phase, err := job.Collection.Phase(i, p.beam)
		if err != nil {
			continue // told where it is fitted
		}
		curve := pattern.Calculate(set, phase, 1, 0, 0)
		k := slices.IndexFunc(curves, func(other []float64) bool { return pattern.Likeness(curve, other, nil) > sameCosine })
		if k < 0 || job.spiked(id) {
			kept, curves = append(kept, phase), append(curves, curve)
			continue
		}
		twins = append(twins, diagnose.Twin{Phase: phase, Of: kept[k].ID})
	}
	return twins, nil
}

const (
	twinCosine = 0.7  // cosine between two fitted patterns from which each can hide the other
	twinSigmas = 10.0 // how far a pattern stands above nothing when no other is counted
)

// twinOf looks for a named phase that is not significant only because another has nearly its lines in this fit: its
// pattern alone stands far above nothing. The weaker of the two is the twin.
func (j Job) twinOf(identified *identify.Explanation) (diagnose.Twin, bool) {
	matches, fit := identified.Matches, identified.Fit
	if fit == nil || j.Searched {
		return diagnose.Twin{}, false
	}
	for b, m := range matches {
		if m.Evidence != result.Named {
			continue
		}
		for a := range matches {
			if a == b || !hides(fit, a, b) {
				continue
			}
			kept, dropped := a, b
			if !j.spiked(matches[a].Phase.ID) && (matches[a].Significance < m.Significance || j.spiked(m.Phase.ID)) && matches[a].Required {
				kept, dropped = b, a
			}
			return diagnose.Twin{Phase: matches[dropped].Phase, Of: matches[kept].Phase.ID}, true
		}
	}
	return diagnose.Twin{}, false
}

// hides reports whether phase a of a fit can hide phase b: as that was fitted, or in its reference cell, since the cell of a
// phase that is left next to nothing may be anything, with as much of it as goes into the other.
func hides(f *pattern.Fit, a, b int) bool {
	like := func(curve []float64) bool {
		return pattern.Likeness(f.Curves[a], curve, nil) > twinCosine && alone(curve, f.Variance) > twinSigmas
	}
	if like(f.Curves[b]) {
		return true
	}
	s := f.Setup
	s.Start.Values = f.Values()
	curve := pattern.Calculate(s, s.Phases[b], 1, 0, 0)
	floats.Scale(floats.Dot(curve, f.Curves[a])/floats.Dot(curve, curve), curve)
	return like(curve)
}

// alone returns by how many standard uncertainties a pattern stands above nothing when no other is in doubt.
func alone(curve, variance []float64) float64 {
	var sum float64
	for i, c := range curve {
		sum += c * c / variance[i]
	}
	return math.Sqrt(sum)
}

// isTwin reports whether a named phase is left to another that has its lines.
func isTwin(twins []diagnose.Twin, id string) bool {
	return slices.ContainsFunc(twins, func(t diagnose.Twin) bool { return strings.EqualFold(t.Phase.ID, id) })
}
