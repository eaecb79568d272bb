package quantify

import (
	"math"
	"slices"
)

// The sources of the budget.
const (
	sourceCounting    = "counting and overlap"
	sourceScatter     = "scatter of lines (texture, grains, profile)"
	sourceRIR         = "reference intensity ratio"
	sourceFactors     = "factors from weighed mixtures"
	sourceRepeat      = "repeatability of weighed mixtures"
	sourceBetween     = "between scans (mounts, sections)"
	sourceCell        = "composition behind a changed cell"
	sourceGrains      = "absorption in grains"
	sourceLoose       = "absorption in grains of unknown size"
	sourceIntercept   = "mean linear intercept of the section"
	sourceMosaic      = "absorption model of the section"
	sourceNoIntercept = "absorption in a section, intercept not stated"
	sourceEither      = "absorption, powder or section not stated"
	sourceRivals      = "another phase with the same lines"
	sourceHidden      = "a phase without a line of its own"
	sourceFeet        = "a broader profile under the lines"
	sourceTrend       = "intensities that change with the angle in all phases"
	sourceWidths      = "broad lines beside the background"
	sourceOptics      = "length of the beam on the specimen"
	sourceTexture     = "texture that the section may hide"
	sourceUnexplained = "unexplained intensity"
)

// A budget holds, for some phases, the covariance of the logarithms of their amounts source by source.
type budget struct{ sources []budgetPart }

// budgetPart is one source.
type budgetPart struct {
	name       string
	covariance [][]float64
	freedom    []float64 // degrees of freedom on which the variance of each phase rests; nil: many
	common     float64   // degrees of freedom on which all of it rests, as one variance; 0: see freedom
}

// budget works out the uncertainty of the amounts of some phases.
func (p *problem) budget(members []int) budget {
	n := len(members)
	cell, grains, optics := zeros(n), zeros(n), zeros(n)
	changed := false
	for i, k := range members {
		if u := solutionU(p.volume[k]); u > 0 {
			cell[i][i], changed = u*u, true
		}
		grains[i][i] = p.tauU[k] * p.tauU[k]
		if p.optics != nil {
			for j, l := range members {
				optics[i][j] = p.optics[k] * p.optics[l]
			}
		}
	}
	b := budget{append(p.measured(members), budgetPart{sourceRIR, p.ratios(members), nil, 0})}
	if p.Corrected != nil {
		b.sources[1].covariance = p.beyondMixtures(members, b.sources[1].covariance)
		b.sources = append(b.sources, p.factorParts(members)...)
	}
	if changed {
		b.sources = append(b.sources, budgetPart{sourceCell, cell, nil, 0})
	}
	if p.Grain != nil {
		b.sources = append(b.sources, budgetPart{sourceGrains, grains, nil, 0})
	}
	if p.optics != nil {
		b.sources = append(b.sources, budgetPart{sourceOptics, optics, nil, 0})
	}
	if p.pulls(members) {
		b.sources = append(b.sources, budgetPart{sourceWidths, squares(pick(p.pulled, members)), nil, 0})
	}
	if p.hidden != nil {
		b.sources = append(b.sources, budgetPart{sourceTexture, squares(pick(p.hidden, members)), nil, 0})
	}
	if p.pull != nil {
		pull := part(p.pull, members)
		for i := range b.sources {
			b.sources[i].covariance = sandwich(pull, b.sources[i].covariance)
		}
	}
	for _, s := range p.sources {
		b.sources = append(b.sources, budgetPart{s.name, part(s.covariance, members), nil, 0})
	}
	return b
}

// noPull is the relative change of an amount below which what is expected of widths does not matter.
const noPull = 1e-3

// pulls reports whether what is expected of the widths of lines matters for the amount of a phase.
func (p *problem) pulls(members []int) bool {
	return p.pulled != nil && slices.ContainsFunc(members, func(k int) bool { return math.Abs(p.pulled[k]) > noPull })
}

// squares returns a diagonal matrix of variances.
func squares(u []float64) [][]float64 {
	out := zeros(len(u))
	for i, x := range u {
		out[i][i] = x * x
	}
	return out
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

// measured returns what the scans themselves leave open for some phases: counting, then the scatter of lines, then, for
// several scans, what they differ by.
func (o observed) measured(members []int) []budgetPart {
	out := []budgetPart{{sourceCounting, part(o.counting, members), nil, 0},
		{sourceScatter, part(o.scatters, members), pick(o.scatterFree, members), 0}}
	if o.between != nil {
		out = append(out, budgetPart{sourceBetween, part(o.between, members), nil, o.betweenFree})
	}
	return out
}

// part returns the rows and columns of a matrix that belong to some phases.
func part(m [][]float64, members []int) [][]float64 {
	out := zeros(len(members))
	for i, p := range members {
		for j, q := range members {
			out[i][j] = m[p][q]
		}
	}
	return out
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
			if s.common > 0 {
				v := sandwich(j[r:r+1], s.covariance)[0][0]
				sum += v * v / s.common
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
func (p *problem) weights(a *Answer, members []int, w []float64) {
	b := p.budget(members)
	for _, s := range b.sources {
		cov := shareCovariance(w, s.covariance)
		for i, k := range members {
			a.Fractions[k].Budget = append(a.Fractions[k].Budget, Source{s.name, math.Sqrt(math.Max(0, cov[i][i]))})
		}
	}
	total := shareCovariance(w, b.total())
	unseen := p.unseen(members)
	free := b.freedom(shareSlopes(w), total)
	for i, k := range members {
		for j, l := range members {
			a.Covariance[k][l] = total[i][j]
		}
		f := &a.Fractions[k]
		f.Weight = interval(w[i], math.Sqrt(math.Max(0, total[i][i])), free[i])
		if p.amounts[k] == 0 {
			f.Weight = interval(0, p.zeroShare(k, members), math.Inf(1))
		}
		// What no phase explains, or a phase that was asked for and is below its limit, can only make a fraction smaller.
		f.Budget = append(f.Budget, Source{sourceUnexplained, w[i] * math.Hypot(p.unexplained, unseen) / math.Sqrt(3)})
		f.Weight.Lo *= (1 - p.unexplained) * (1 - unseen)
	}
}

// zeroShare returns the standard uncertainty, wt%, of a phase whose amount is 0.
func (p *problem) zeroShare(k int, members []int) float64 {
	var total float64
	for _, a := range pick(p.amounts, members) {
		total += a
	}
	return percentOf(p.zeroU[k], total, total)
}

// unseen returns the mass that phases which were asked for and not found may have, at 95 %, over that of everything.
func (p *problem) unseen(members []int) float64 {
	var there, more float64
	for _, a := range pick(p.amounts, members) {
		there += a
	}
	for _, k := range p.phasesOf(Absent) {
		if !math.IsInf(p.zeroU[k], 0) { // without a line in range nothing is known
			more += p.amounts[k] + oneSided95*p.zeroU[k]
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
