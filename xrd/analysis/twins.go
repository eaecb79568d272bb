package analysis

import (
	"fmt"
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

// A twin is a named phase that was not fitted because another named phase has its lines.
type twin struct {
	phase refdata.Phase
	of    string // id of the phase that was fitted for both
}

// sameCosine is the cosine between two patterns from which cells, widths and texture could only tell which is which by
// chance.
const sameCosine = 0.99

// pairTwins finds named phases whose reference patterns are the same at the resolution of the scan, and keeps the first of
// each for the fit. A scan can only tell how much there is of both together.
func (r *run) pairTwins() error {
	if r.job.searched {
		return nil // a series keeps the phases of all its scans
	}
	ids := r.namedPhases()
	if len(r.job.Phases) == 0 {
		ids = append(ids, r.job.Filter.Require...)
	}
	set := r.setup()
	var kept []refdata.Phase
	var curves [][]float64
	for _, id := range ids {
		i, err := find(r.job.Collection, id)
		if err != nil {
			return err
		}
		id = r.job.Collection.Entry(i).ID // named twice, as a standard and by --require, it is no twin of itself
		if slices.ContainsFunc(kept, func(p refdata.Phase) bool { return p.ID == id }) {
			continue
		}
		p, err := r.job.Collection.Phase(i, r.beam)
		if err != nil {
			continue // told where it is fitted
		}
		curve := pattern.Sketch(set, p, 1, 0, 0)
		k := slices.IndexFunc(curves, func(other []float64) bool { return cosine(curve, other) > sameCosine })
		if k < 0 || r.spiked(id) {
			kept, curves = append(kept, p), append(curves, curve)
			continue
		}
		r.twins = append(r.twins, twin{p, kept[k].ID})
	}
	return nil
}

func cosine(a, b []float64) float64 {
	var ab, aa, bb float64
	for i := range a {
		ab += a[i] * b[i]
		aa += a[i] * a[i]
		bb += b[i] * b[i]
	}
	return ab / math.Sqrt(aa*bb)
}

const (
	twinCosine = 0.7  // cosine between two fitted patterns from which each can hide the other
	twinSigmas = 10.0 // how far a pattern stands above nothing when no other is counted
)

// dropTwin looks for a named phase that is not significant only because another has nearly its lines in this fit: its
// pattern alone stands far above nothing. The weaker of the two is taken out. It reports whether there was one.
func (r *run) dropTwin() bool {
	members, fit := r.outcome.Members, r.outcome.Fit
	if fit == nil || r.job.searched {
		return false
	}
	for b, m := range members {
		if m.Evidence != result.Named {
			continue
		}
		for a := range members {
			if a == b || !hides(fit, a, b) {
				continue
			}
			kept, dropped := a, b
			if !r.spiked(members[a].Phase.ID) && (members[a].Significance < m.Significance || r.spiked(m.Phase.ID)) && members[a].Required {
				kept, dropped = b, a
			}
			r.twins = append(r.twins, twin{members[dropped].Phase, members[kept].Phase.ID})
			return true
		}
	}
	return false
}

// hides reports whether phase a of a fit can hide phase b: as that was fitted, or in its reference cell, since the cell of a
// phase that is left next to nothing may be anything, with as much of it as goes into the other.
func hides(f *pattern.Fit, a, b int) bool {
	like := func(curve []float64) bool {
		return cosine(f.Curves[a], curve) > twinCosine && alone(curve, f.Variance) > twinSigmas
	}
	if like(f.Curves[b]) {
		return true
	}
	s := f.Setup
	s.Start.Values = f.Values()
	curve := pattern.Sketch(s, s.Phases[b], 1, 0, 0)
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
func (r *run) isTwin(id string) bool {
	return slices.ContainsFunc(r.twins, func(t twin) bool { return strings.EqualFold(t.phase.ID, id) })
}

// twinCautions says which fractions are of two phases together.
func (r *run) twinCautions() []xrd.Caution {
	var out []xrd.Caution
	for _, t := range r.twins {
		k := slices.IndexFunc(r.outcome.Members, func(m identify.Member) bool { return m.Phase.ID == t.of })
		if k < 0 {
			continue
		}
		own := r.outcome.Members[k].Phase
		evidence := map[string]any{"phases": []string{own.ID, t.phase.ID}}
		text := fmt.Sprintf("%s and %s cannot be told apart: they have the same lines in this scan. What is given for %s is both together", own.Name, t.phase.Name, own.Name)
		if w := r.answer.Fractions[k].Weight; !math.IsNaN(w.Percent) {
			evidence["sum_weight_percent"] = w.Percent
			text += fmt.Sprintf(", %.1f wt%%", w.Percent)
			if other := r.otherwise(k, t.phase.RIR.Value); math.Abs(other-w.Percent) > 0.05 {
				text += fmt.Sprintf(" (%.1f wt%% if all of it were %s)", other, t.phase.Name)
				evidence["sum_if_other_weight_percent"] = other
			}
		}
		out = append(out, xrd.Caution{Code: "same-lines", Severity: xrd.Warn, Text: text + ".",
			Remedy: "Use the sum, or decide by elemental analysis, a wider scan or another tube.", Evidence: evidence})
	}
	return out
}

// otherwise returns the wt% of member k were its reference intensity ratio another; NaN when that is not known.
func (r *run) otherwise(k int, rir float64) float64 {
	f := r.answer.Fractions[k].Weight.Percent / 100
	x := f / (1 - f) * r.outcome.Members[k].Phase.RIR.Value / rir
	if !(rir > 0) || f >= 1 {
		return 100 * f
	}
	return 100 * x / (1 + x)
}
