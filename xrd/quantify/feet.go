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

// withFeet widens an answer by what it would be with the broader profiles counted that lie under lines: crystallites of a few nanometres
// beside larger ones lose their tails to the background. How fine they are the scan hardly tells, and so not how much of them: the
// fitted profile alone is one end, with all of the broader one the other. Values stay those of the fitted profiles.
func (p *problem) withFeet(a Answer) Answer {
	members := p.phasesOf(Specimen)
	a.Feet = make([]Foot, len(p.Roles))
	for k, role := range p.Roles {
		if role == Absent || role == Preparation {
			continue
		}
		foot, ok := p.Fit.FootOf(k)
		if !ok {
			continue
		}
		a.Feet[k] = Foot{foot, math.NaN()}
		mass := slices.Clone(foot.Amounts)
		if p.Spike != nil { // all is set against the standard
			for j := range mass {
				mass[j] /= foot.Amounts[p.Spike.Phase]
			}
		}
		if slices.ContainsFunc(mass, func(m float64) bool { return !(m >= 0) || math.IsInf(m, 0) }) {
			continue
		}
		if role == Specimen {
			var all float64
			for _, j := range members {
				all += a.Fractions[j].Weight.Percent * mass[j]
			}
			a.Feet[k].Percent = 100 * a.Fractions[k].Weight.Percent * mass[k] / all
		}
		a.hold(sourceFeet, members, mass, mass)
	}
	return a
}
