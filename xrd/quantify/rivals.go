package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
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
				mass, volume := ones(len(a.Fractions)), ones(len(a.Fractions))
				mass[k], volume[k] = factor, factor*p.Fit.Setup.Phases[k].Density/r.Density
				a.hold(sourceRivals, members, mass, volume)
			}
		}
	}
	return p.withoutHidden(a, members)
}

// withoutHidden widens an answer by what it would be without a phase that shows no line of its own: it need not be there, and its
// intensity may be that of the phase whose pattern is most like it.
func (p *problem) withoutHidden(a Answer, members []int) Answer {
	for k, hidden := range p.Hidden {
		under := p.mostLike(k, members)
		if !hidden || p.Roles[k] != Specimen || under < 0 {
			continue
		}
		w, v := a.Fractions[k], a.Fractions[under]
		factor := p.instead(k, p.Fit.Setup.Phases[under])
		if !(factor > 0) || math.IsInf(factor, 0) || !(w.Weight.Percent > 0) || !(v.Weight.Percent > 0) {
			continue
		}
		mass, volume := ones(len(a.Fractions)), ones(len(a.Fractions))
		mass[k], volume[k] = 0, 0
		mass[under] += factor * w.Weight.Percent / v.Weight.Percent
		volume[under] += factor * p.Fit.Setup.Phases[k].Density / p.Fit.Setup.Phases[under].Density * w.Volume.Percent / v.Volume.Percent
		a.hold(sourceHidden, members, mass, volume)
	}
	return a
}

// mostLike returns the phase whose fitted pattern is most like that of phase k, -1 for none.
func (p *problem) mostLike(k int, members []int) int {
	best, most := -1, 0.0
	for _, j := range members {
		if j == k {
			continue
		}
		if like := pattern.Likeness(p.Fit.Curves[k], p.Fit.Curves[j], p.Fit.Variance); like > most {
			best, most = j, like
		}
	}
	return best
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

// hold widens the intervals so that they hold the fractions with amounts, and volumes, of the phases that are larger by factors.
func (a *Answer) hold(source string, members []int, mass, volume []float64) {
	var all, allVolume float64 // over those of before
	for _, j := range members {
		all += a.Fractions[j].Weight.Percent / 100 * mass[j]
		allVolume += a.Fractions[j].Volume.Percent / 100 * volume[j]
	}
	apart := make([]float64, len(a.Fractions))
	var moved float64 // wt% of the original specimen
	for _, j := range members {
		f := &a.Fractions[j]
		share := mass[j] / all
		apart[j] = f.Weight.Percent * (share - 1) / math.Sqrt(3)
		if o := f.Original.Percent; !math.IsNaN(o) {
			moved += o * (1 - mass[j])
		}
		f.Weight = f.Weight.holding(f.Weight.times(share))
		f.Volume = f.Volume.holding(f.Volume.times(volume[j] / allVolume))
		f.Original = f.Original.holding(f.Original.times(mass[j]))
		f.Budget = append(f.Budget, Source{source, math.Abs(apart[j])})
	}
	if a.Amorphous != nil {
		shifted := *a.Amorphous
		shifted.Lo, shifted.Hi = shifted.Lo+moved, shifted.Hi+moved
		held := a.Amorphous.holding(shifted)
		a.Amorphous = &held
	}
	outer(a.Covariance, apart, 1)
}

// times returns a value and its interval times a factor, within 100 %.
func (v Value) times(factor float64) Value {
	return Value{v.Percent * factor, v.Lo * factor, math.Min(100, v.Hi*factor)}
}
