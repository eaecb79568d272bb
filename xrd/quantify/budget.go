package quantify

import (
	"math"

	"phasetally/xrd/pattern"
)

// The sources of the budget.
const (
	sourceCounting    = "counting and overlap"
	sourceScatter     = "scatter of lines (texture, grains, profile)"
	sourceRIR         = "reference intensity ratio"
	sourceBetween     = "between scans (mounts, sections)"
	sourceCell        = "composition behind a changed cell"
	sourceGrains      = "absorption in grains"
	sourceOptics      = "length of the beam on the specimen"
	sourceUnexplained = "unexplained intensity"
)

// A budget holds, for some phases, the covariance of the logarithms of their amounts source by source.
type budget struct{ sources []budgetPart }

// budgetPart is one source.
type budgetPart struct {
	name       string
	covariance [][]float64
	freedom    []float64 // degrees of freedom on which the variance of each phase rests; nil: many
}

// budget works out the uncertainty of the amounts of some phases.
func (in Input) budget(members []int) budget {
	n := len(members)
	rir, cell, grains, optics := zeros(n), zeros(n), zeros(n), zeros(n)
	changed := false
	for i, p := range members {
		if u := solutionU(in.Fit.VolumeRatio(p)); u > 0 {
			cell[i][i], changed = u*u, true
		}
		u := RatioU(in.Fit.Setup.Phases[p])
		rir[i][i] = u * u
		if in.tauU != nil {
			grains[i][i] = in.tauU[p] * in.tauU[p]
		}
		if in.Optics != nil {
			for j, q := range members {
				optics[i][j] = in.Optics[p] * in.Optics[q]
			}
		}
	}
	b := budget{append(in.observed(members), budgetPart{sourceRIR, rir, nil})}
	if changed {
		b.sources = append(b.sources, budgetPart{sourceCell, cell, nil})
	}
	if in.Grain != nil {
		b.sources = append(b.sources, budgetPart{sourceGrains, grains, nil})
	}
	if in.Optics != nil {
		b.sources = append(b.sources, budgetPart{sourceOptics, optics, nil})
	}
	return b
}

const (
	solutionEdge  = 5e-3 // relative change of a cell from which the composition is not that of the reference
	solutionSlope = 4.0  // relative change of the reference intensity ratio for that of the cell edge
)

// solutionU returns the relative standard uncertainty of the amount of a phase whose cell volume has changed by a ratio, as
// atoms of another element change it: what they scatter is not known. With 7.7 at.% of tin the edge of copper grows by
// 1.8 % (Vegard's line, from memory), |F|² by 11 %, V² by 11 % and ρ by 7 %, which changes I/Ic by 7 %: about 4 times the
// change of the edge. Smaller changes are those of temperature and of references.
func solutionU(volumeRatio float64) float64 {
	if edge := math.Abs(math.Cbrt(volumeRatio) - 1); edge > solutionEdge {
		return solutionSlope * edge
	}
	return 0
}

// observed returns what the scan itself leaves open: counting, then the scatter of lines, then, for several scans, what
// they differ by.
func (in Input) observed(members []int) []budgetPart {
	if in.joint != nil {
		return in.joint.of(members)
	}
	n := len(members)
	counting, scattered := budgetPart{sourceCounting, zeros(n), nil}, budgetPart{sourceScatter, zeros(n), make([]float64, n)}
	for i, p := range members {
		scattered.freedom[i] = in.scatters[p].freedom
		for j, q := range members {
			counting.covariance[i][j], scattered.covariance[i][j] = scaleCovariance(in.Fit, in.scatters, p, q)
		}
	}
	return []budgetPart{counting, scattered}
}

// scaleCovariance returns the covariance of the logarithms of two scales of a fit that counting makes, and what the
// scatter of lines adds; 0 for a scale of 0.
func scaleCovariance(f *pattern.Fit, all []scatter, p, q int) (counting, scattered float64) {
	d := f.Scales[p] * f.Scales[q]
	if !(d > 0) {
		return 0, 0
	}
	c := f.ScaleCov[p][q] * f.Agreement.Serial * f.Agreement.Serial / d
	counting = c * math.Sqrt(all[p].counting*all[q].counting)
	return counting, c*math.Sqrt(all[p].inflation*all[q].inflation) - counting
}

// total returns the sum over the sources.
func (b budget) total() [][]float64 {
	sum := zeros(len(b.sources[0].covariance))
	for _, s := range b.sources {
		add(sum, s.covariance)
	}
	return sum
}

// freedom returns the effective degrees of freedom of results with Jacobian j (to the logarithms of the amounts, perhaps
// followed by others) and covariance cov, by the formula of Welch and Satterthwaite (GUM, annex G): the scatter of lines
// and that between scans rest on few.
func (b budget) freedom(j, cov [][]float64) []float64 {
	out := make([]float64, len(cov))
	for r := range out {
		var sum float64
		for _, s := range b.sources {
			for i, free := range s.freedom {
				v := j[r][i] * j[r][i] * s.covariance[i][i]
				sum += v * v / free
			}
		}
		out[r] = math.Inf(1)
		if sum > 0 {
			out[r] = cov[r][r] * cov[r][r] / sum
		}
	}
	return out
}

// weights fills in the fractions of the crystalline part, w, with their budget.
func (a *Answer) weights(in Input, members []int, w []float64) {
	b := in.budget(members)
	for _, s := range b.sources {
		cov := shareCovariance(w, s.covariance)
		for i, p := range members {
			a.Fractions[p].Budget = append(a.Fractions[p].Budget, Source{s.name, math.Sqrt(math.Max(0, cov[i][i]))})
		}
	}
	total := shareCovariance(w, b.total())
	unseen := in.unseen(members)
	free := b.freedom(shareSlopes(w), total)
	for i, p := range members {
		for j, q := range members {
			a.Covariance[p][q] = total[i][j]
		}
		f := &a.Fractions[p]
		f.Weight = interval(w[i], math.Sqrt(math.Max(0, total[i][i])), free[i])
		if in.Fit.Scales[p] == 0 {
			f.Weight = interval(0, in.zeroShare(p, members), math.Inf(1))
		}
		// What no phase explains, or a phase that was asked for and is below its limit, can only make a fraction smaller.
		f.Budget = append(f.Budget, Source{sourceUnexplained, w[i] * math.Hypot(in.Unexplained, unseen) / math.Sqrt(3)})
		f.Weight.Lo *= (1 - in.Unexplained) * (1 - unseen)
	}
}

// unseen returns the mass that phases which were asked for and not found may have, at 95 %, over that of everything.
func (in Input) unseen(members []int) float64 {
	var there, more float64
	for _, a := range pick(in.amounts(), members) {
		there += a
	}
	for _, p := range in.members(Absent) {
		if r := in.Fit.Setup.Phases[p].RIR.Value; r > 0 && !math.IsInf(in.Fit.ZeroU[p], 0) { // without a line in range nothing is known
			more += (in.Fit.Scales[p] + oneSided95*in.Fit.ZeroU[p]) / r
		}
	}
	if !(there > 0) {
		return 0
	}
	return more / (there + more)
}

// oneSided95 is the 95 % quantile of the Gaussian distribution.
const oneSided95 = 1.6448536269514722

// interval returns a percentage with its 95 % interval.
func interval(percent, u, freedom float64) Value {
	lo, hi := Interval(percent, u, coverage95(freedom))
	return Value{percent, lo, hi}
}
