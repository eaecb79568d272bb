package quantify

import (
	"math"
	"slices"

	"phasetally/xrd/pattern"
)

// A Foot is a broader profile under the lines of a phase.
type Foot struct {
	pattern.Foot
	Percent float64 // wt% of the phase with all of it counted; NaN when not known
}

// A Trend is a change of all intensities with the angle that no structure explains.
type Trend struct {
	pattern.CommonDeltaB
	Percent []float64 // wt% of each phase without it, parallel to the phases of the fit; NaN when not known
}

// withDepartures widens an answer by what it would be where the pattern departs from its model in a way that the fit shows and that moves
// amounts. Values stay those of the fit.
//
// Crystallites of a few nanometres beside larger ones lose their tails to the background. How fine they are the scan hardly tells, and
// so not how much of them: the fitted profile alone is one end, with all of the broader one the other.
//
// What takes intensity away at low or at high angles moves the displacement parameters of all phases alike, held near those of their structures
// some more than others: the fit as it is is one end, that with all parameters expected there the other.
func (p *problem) withDepartures(a Answer) Answer {
	a.Feet = make([]Foot, len(p.Roles))
	for k, role := range p.Roles {
		if role == Absent || role == Preparation {
			continue
		}
		if foot, ok := p.Fit.FootOf(k); ok {
			a.Feet[k] = Foot{foot, p.departing(&a, sourceFeet, foot.Amounts)[k]}
		}
	}
	if c, ok := p.Fit.CommonDeltaB(); ok {
		a.Trend = &Trend{c, p.departing(&a, sourceTrend, c.Amounts)}
	}
	return a
}

// departing widens an answer so that it holds what it would be with amounts of all phases larger by factors, which it returns, wt%; NaN for
// phases that are not of the specimen, and for all where factors are no numbers.
func (p *problem) departing(a *Answer, source string, factors []float64) []float64 {
	mass, out, members := slices.Clone(factors), make([]float64, len(factors)), p.phasesOf(Specimen)
	var all float64
	for j := range mass {
		out[j] = math.NaN()
		if p.Spike != nil { // all is set against the standard
			mass[j] /= factors[p.Spike.Phase]
		}
	}
	if slices.ContainsFunc(mass, func(m float64) bool { return !(m >= 0) || math.IsInf(m, 0) }) {
		return out
	}
	for _, j := range members {
		all += a.Fractions[j].Weight.Percent * mass[j]
	}
	for _, j := range members {
		out[j] = 100 * a.Fractions[j].Weight.Percent * mass[j] / all
	}
	a.hold(source, members, mass, mass)
	return out
}
