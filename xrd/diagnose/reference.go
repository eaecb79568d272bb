package diagnose

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// Orders of one reflection, as 002 and 004, come from the same planes of the same grains: texture, whatever its kind, and few
// grains change them alike. Where their ratio is not that of the reference, its intensities are wrong. What is left beside
// that is smooth in (sin θ/λ)²: the displacement parameter, and slits, surfaces and extinction that favour high or low angles.
const (
	orderFloor     = 0.05 // relative scatter of a line by fit and profile (common practice; the same as the misfit of whole patterns)
	orderB         = 0.5  // standard deviation of a displacement parameter left over, Å² (common practice: published ones differ by as much)
	orderSigma     = 5.0  // significance of a line that has a say
	othersLines    = 6    // of other phases, which tell how lines scatter where references are right
	orderChance    = 1e-3 // of a false alarm for one phase, were the scatter Gaussian
	orderDifferent = 0.15 // relative difference of orders below which nothing is worth saying (RIR of measured references: 10 %)
)

// order is one order of a reflection: the logarithm of observed over expected with its variance, and (sin θ/λ)², Å⁻².
type order struct {
	h, k, l       int
	ratio, u2, s2 float64
}

// orders groups lines of one family by their planes, those with two orders or more.
func orders(lines []pattern.LineFit) map[[3]int][]order {
	out := map[[3]int][]order{}
	for _, l := range lines {
		if !l.Own() || len(l.Line.Families) != 1 || !(l.Expected > orderSigma*l.ObservedU) || !(l.Observed > orderSigma*l.ObservedU) {
			continue
		}
		f := l.Line.Families[0]
		n := divisor(divisor(f.H, f.K), f.L)
		if n == 0 {
			continue
		}
		u := l.ObservedU / l.Observed
		plane := [3]int{f.H / n, f.K / n, f.L / n}
		out[plane] = append(out[plane], order{f.H, f.K, f.L, math.Log(l.Observed / l.Expected), u * u, 1 / (4 * l.Line.D * l.Line.D)})
	}
	for plane, list := range out {
		if len(list) < 2 {
			delete(out, plane)
		}
	}
	return out
}

// divisor returns the greatest common divisor of two indices, not negative.
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return max(a, -a)
}

// disagreement tests whether orders agree up to a displacement parameter, for lines that scatter by a relative s: χ² over its
// degrees of freedom, these, and the two orders that differ most, with a displacement parameter and without.
func disagreement(groups map[[3]int][]order, s float64) (chi2, free float64, worst [2]order) {
	b := 0.0
	var normal, right float64
	centred := func(list []order) (mean, at float64) {
		var w float64
		for _, o := range list {
			x := 1 / (o.u2 + s*s)
			w, mean, at = w+x, mean+x*o.ratio, at+x*o.s2
		}
		return mean / w, at / w
	}
	for _, list := range groups {
		mean, at := centred(list)
		for _, o := range list {
			x := 1 / (o.u2 + s*s)
			normal += x * (o.s2 - at) * (o.s2 - at)
			right += x * (o.s2 - at) * (o.ratio - mean)
		}
		free += float64(len(list) - 1)
	}
	prior := 1 / (4 * orderB * orderB) // of b, which is twice a displacement parameter
	b = right / (normal + prior)
	chi2 = b * b * prior
	var most float64
	for _, list := range groups {
		mean, at := centred(list)
		for i, o := range list {
			d := o.ratio - mean - b*(o.s2-at)
			chi2 += d * d / (o.u2 + s*s)
			for _, p := range list[:i] {
				raw := math.Abs(o.ratio - p.ratio)
				if apart := math.Min(raw, math.Abs(o.ratio-p.ratio-b*(o.s2-p.s2))); apart > most {
					most, worst = apart, [2]order{p, o}
				}
			}
		}
	}
	return chi2, free, worst
}

// referenceDoubtful questions the reference of a phase whose orders disagree by more than lines of the other phases scatter.
func referenceDoubtful(e Evidence, i int) []xrd.Caution {
	groups := orders(e.Explanation.Matches[i].Lines)
	var squares, n float64
	for k, m := range e.Explanation.Matches {
		if scatter, lines := pattern.IntensityScatter(m.Lines); k != i {
			squares += scatter * scatter * float64(lines)
			n += float64(lines)
		}
	}
	if len(groups) == 0 || n < othersLines {
		return nil
	}
	s := math.Max(orderFloor, math.Sqrt(squares/n))
	chi2, free, worst := disagreement(groups, s)
	p := distuv.F{D1: free, D2: n}.Survival(chi2 / free)
	apart := math.Abs(worst[0].ratio - worst[1].ratio)
	if !(p < orderChance) || !(apart > math.Log1p(orderDifferent)) {
		return nil
	}
	phase := e.Explanation.Matches[i].Phase
	name := func(o order) string { return fmt.Sprintf("%d %d %d × %.2f", o.h, o.k, o.l, math.Exp(o.ratio)) }
	return []xrd.Caution{{Code: "reference-doubtful", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("Intensities of %s disagree with its reference in a way that neither texture nor few grains explain: orders of the same planes, which these change alike, are %s and %s of what they should be.",
			phase.Name, name(worst[0]), name(worst[1])),
		Remedy:   doubtfulRemedy(phase),
		Evidence: map[string]any{"phase": phase.ID, "chi_square": chi2, "freedom": free, "scatter_of_others": s}}}
}

// doubtfulRemedy says where to look, by what the reference is.
func doubtfulRemedy(p refdata.Phase) string {
	if slices.ContainsFunc(p.Lines, func(l refdata.Line) bool { return len(l.Families) > 0 && l.Families[0].F2 > 0 }) {
		return "Look for another, newer determination of the structure: atomic positions or occupancies may be wrong. The fraction is as doubtful as the intensities."
	}
	return "Use a crystal structure (CIF) instead of listed intensities. The fraction is as doubtful as these."
}
