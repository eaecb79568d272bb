package quantify

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	contradicts = 1e-3 // probability below which mixtures are not taken to share factors (common practice)
	reconciled  = 0.05 // and from which they are
)

// Contradict reports whether weighed mixtures contradict each other: their amounts differ from common factors by as much as the
// amounts themselves, or by more than lines and mounts explain (p < 0.001) while no mixture follows from the others better with
// factors than without. Then what stands beside the scans is not what is in them, or something differs that no factor holds for.
func (f Factors) Contradict(trials []*Trial) bool {
	if !(f.Repeatability < mostRepeatability) {
		return true
	}
	var before, after float64
	for _, t := range trials {
		if t == nil {
			continue
		}
		for k, w := range t.Percent {
			if w > 0 {
				before += square(t.Before[k] - w)
				after += square(t.After[k] - w)
			}
		}
	}
	return f.Agreement < contradicts && !(after < before)
}

// mostRepeatability is a departure as large as the amounts themselves.
const mostRepeatability = 1.0

// Exchanged returns two mixtures of the same phases whose weighed values, exchanged, make mixtures agree that do not as they
// are, and false when there are no two, or several pairs.
func (f Factors) Exchanged(mixtures []Weighed) (a, b int, ok bool) {
	if !(f.Agreement < contradicts) {
		return 0, 0, false
	}
	best, second := 0.0, 0.0
	for i := range mixtures {
		for j := range i {
			there, ok := exchange(mixtures, i, j)
			if !ok {
				continue
			}
			f, err := FitFactors(there, "")
			if err != nil {
				continue
			}
			if p := f.Agreement; p > best {
				a, b, best, second = j, i, p, best
			} else {
				second = math.Max(second, p)
			}
		}
	}
	return a, b, best > reconciled && !(second > reconciled)
}

// exchange returns the mixtures with the weighed values of two exchanged, and false when these are not of the same phases.
func exchange(mixtures []Weighed, i, j int) ([]Weighed, bool) {
	out := slices.Clone(mixtures)
	var ok [2]bool
	out[i], ok[0] = mixtures[i].as(mixtures[j])
	out[j], ok[1] = mixtures[j].as(mixtures[i])
	return out, ok[0] && ok[1]
}

// as returns a mixture with what was weighed into another, and false when its phases are not those.
func (m Weighed) as(other Weighed) (Weighed, bool) {
	out := m
	out.Percent, out.U = make([]float64, len(m.Percent)), nil
	if other.U != nil {
		out.U = make([]float64, len(m.Percent))
	}
	for k, p := range other.Fit.Setup.Phases {
		own := indexOf(m.Fit, p.ID)
		if (other.Percent[k] > 0) != (own >= 0 && m.Percent[own] > 0) {
			return m, false
		}
		if own >= 0 {
			out.Percent[own] = other.Percent[k]
			if other.U != nil {
				out.U[own] = other.U[k]
			}
		}
	}
	for k, w := range m.Percent {
		if (w > 0) != (out.Percent[k] > 0) {
			return m, false
		}
	}
	return out, true
}

const (
	departs     = 0.01 // probability, over all mixtures, below which one is not of the kind of the others (common practice)
	leastOthers = 2    // degrees of freedom that the others need to tell how much they differ
)

// Departing returns the number of the mixture that departs from the others by more than they differ among themselves, false for none. Let
// constant factors leave χ² with ν degrees of freedom, those of all but mixture i χ²_i with ν_i; then
// (χ² − χ²_i)/(ν − ν_i) over χ²_i/ν_i is distributed as F when it is one of them, and its chance times the number of mixtures decides.
func Departing(mixtures []Weighed) (int, bool) {
	all, allFree, ok := leftBy(mixtures)
	if !ok {
		return 0, false
	}
	worst, least := 0, departs
	for i := range mixtures {
		others, free, ok := leftBy(slices.Concat(mixtures[:i:i], mixtures[i+1:]))
		ratio := (all - others) / (allFree - free) / (others / free)
		if !ok || free < leastOthers || !(allFree > free) || !(ratio > 0) || math.IsInf(ratio, 0) {
			continue
		}
		if p := float64(len(mixtures)) * (distuv.F{D1: allFree - free, D2: free}).Survival(ratio); p < least {
			worst, least = i, p
		}
	}
	return worst, least < departs
}

// leftBy returns χ² that constant factors leave of mixtures that differ by what mounts do, with its degrees of freedom.
func leftBy(mixtures []Weighed) (chi2, free float64, ok bool) {
	ids := weighedIDs(mixtures)
	scans := make([]observed, len(mixtures))
	for i, m := range mixtures {
		var err error
		if scans[i], err = m.overWeighed(ids); err != nil {
			return 0, 0, false
		}
	}
	c, ok := newCombination(scans, make([]Role, len(ids)))
	if !ok {
		return 0, 0, false
	}
	return c.solve(mountU, false), float64(c.repeats.Freedom), true
}
