package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// amongRivals widens an answer by what phases that would explain the same lines as well would make of it: a name that is not sure
// leaves the amounts of all phases unsure, since another one scatters more or less per mass. Values stay those of the names.
func (p *problem) amongRivals(a Answer) Answer {
	members := p.phasesOf(Specimen)
	for k, rivals := range p.Rivals {
		if p.Roles[k] != Specimen || !(p.amounts[k] > 0) || math.IsNaN(a.Fractions[k].Weight.Percent) {
			continue
		}
		for _, r := range rivals {
			if factor := p.instead(k, r); factor > 0 && !math.IsInf(factor, 0) {
				a.hold(members, k, factor, factor*p.Fit.Setup.Phases[k].Density/r.Density)
			}
		}
	}
	return a
}

// instead returns the amount of a rival over that of phase k that the same intensity in the range of the scan means.
func (p *problem) instead(k int, rival refdata.Phase) float64 {
	x := p.Fit.Setup.TwoTheta
	sum := func(lines []refdata.Line) (all float64) {
		for _, l := range lines {
			if at, ok := xrd.TwoTheta(l.D, p.Fit.Setup.Radiation.KAlpha1); ok && at >= x[0] && at <= x[len(x)-1] {
				all += l.Intensity
			}
		}
		return all
	}
	own := p.Fit.Setup.Phases[k]
	if !(rival.RIR.Value > 0) {
		return math.NaN()
	}
	return sum(own.Lines) / sum(rival.Lines) * own.RIR.Value / rival.RIR.Value
}

// hold widens the intervals so that they hold the fractions with an amount of phase k that is larger by a factor, and a volume by
// another.
func (a *Answer) hold(members []int, k int, mass, volume float64) {
	w, v := a.Fractions[k].Weight.Percent, a.Fractions[k].Volume.Percent
	apart := make([]float64, len(a.Fractions))
	for _, j := range members {
		f := &a.Fractions[j]
		own, ownVolume := 1.0, 1.0
		if j == k {
			own, ownVolume = mass, volume
		}
		share := 100 * own / (100 - w + w*mass)
		apart[j] = f.Weight.Percent * (share - 1) / math.Sqrt(3)
		f.Weight = f.Weight.holding(f.Weight.times(share))
		f.Volume = f.Volume.holding(f.Volume.times(100 * ownVolume / (100 - v + v*volume)))
		f.Original = f.Original.holding(f.Original.times(own))
		f.Budget = append(f.Budget, Source{sourceRivals, math.Abs(apart[j])})
	}
	if o := a.Fractions[k].Original.Percent; a.Amorphous != nil && !math.IsNaN(o) {
		moved, d := *a.Amorphous, o*(1-mass)
		moved.Lo, moved.Hi = moved.Lo+d, moved.Hi+d
		held := a.Amorphous.holding(moved)
		a.Amorphous = &held
	}
	outer(a.Covariance, apart, 1)
}

// times returns a value and its interval times a factor, within 100 %.
func (v Value) times(factor float64) Value {
	return Value{v.Percent * factor, v.Lo * factor, math.Min(100, v.Hi*factor)}
}
