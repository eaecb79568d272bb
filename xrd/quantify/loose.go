package quantify

import (
	"math"

	"phasetally/xrd"
)

// Grains of a powder whose size nobody states absorb, too. Ground powders have grains of half a micrometre to five (common
// practice); within that range the logarithm of the diameter is taken for equally likely everywhere. The values stay those of a fine
// powder: what grains of a diameter D would make of them is δ(D), to one side for each phase, more for more absorbing ones.
// ⟨δ²⟩ over the range is a source of the budget, and the interval reaches out to that side by δ of the largest grains joined in
// squares with what it had.
const (
	leastGrainSize = 0.5 // µm
	mostGrainSize  = 5.0 // µm
)

// grainNodes are logarithmic steps over the range with the weights of Simpson's rule.
var grainNodes = []struct{ diameter, weight float64 }{
	{leastGrainSize, 1. / 6}, {1.5811388300841895, 4. / 6}, {mostGrainSize, 1. / 6},
}

// loose widens the answer for a powder by what grains of unknown size may do. Stated sizes win. Factors from weighed mixtures of all
// phases have taken it up: to first order the ratio of two amounts changes by (μ_p − μ_q) times a length, whatever the mixture.
func (p *problem) loose(powder Answer) Answer {
	members := p.phasesOf(Specimen)
	if p.Section != nil && !p.Section.Perhaps || p.Grain != nil || p.incommensurate || p.Fit.Setup.Instrument.Geometry == xrd.Transmission || p.allCorrected() {
		return powder
	}
	n := len(p.Roles)
	square, reach := zeros(n), make([]departure, n)
	var amorphous departure
	spheres := p.spheres(roughQuadrature)
	for _, node := range grainNodes {
		q, ok := p.ofGrains(node.diameter, spheres)
		if !ok {
			return powder
		}
		a := q.answer()
		d := make([]float64, n)
		for _, k := range members {
			reach[k] = reach[k].to(powder.Fractions[k], a.Fractions[k])
			d[k] = a.Fractions[k].Weight.Percent - powder.Fractions[k].Weight.Percent
		}
		if a.Amorphous != nil && powder.Amorphous != nil {
			amorphous.original = a.Amorphous.Percent - powder.Amorphous.Percent
		}
		outer(square, d, math.Sqrt(node.weight))
	}
	add(powder.Covariance, square)
	for _, k := range members {
		f := &powder.Fractions[k]
		f.Budget = append(f.Budget, Source{sourceLoose, math.Sqrt(square[k][k])})
		f.Weight, f.Volume = f.Weight.reaching(reach[k].weight, 0, 100), f.Volume.reaching(reach[k].volume, 0, 100)
		f.Original = f.Original.reaching(reach[k].original, math.Inf(-1), math.Inf(1))
	}
	if powder.Amorphous != nil {
		v := powder.Amorphous.reaching(amorphous.original, math.Inf(-1), math.Inf(1))
		powder.Amorphous = &v
	}
	return powder
}

// departure is by how much fractions of one phase change, per cent.
type departure struct{ weight, volume, original float64 }

// to returns the departure of one fraction from another.
func (departure) to(from, to Fraction) departure {
	return departure{to.Weight.Percent - from.Weight.Percent, to.Volume.Percent - from.Volume.Percent, to.Original.Percent - from.Original.Percent}
}

// reaching returns a value whose interval reaches out to one side by a departure, joined in squares, within what the value
// can be.
func (v Value) reaching(d, least, most float64) Value {
	switch {
	case d > 0:
		v.Hi = math.Max(v.Hi, math.Min(most, v.Percent+math.Hypot(v.Hi-v.Percent, d)))
	case d < 0:
		v.Lo = math.Min(v.Lo, math.Max(least, v.Percent-math.Hypot(v.Percent-v.Lo, d)))
	}
	return v
}

// ofGrains returns the problem for grains of one diameter, µm, and false when the absorption of a phase is not known.
func (p *problem) ofGrains(diameter float64, spheres []sphere) (*problem, bool) {
	out := *p
	out.amountsOnly = true
	out.Grain = make([]float64, len(p.Roles))
	for k := range out.Grain {
		out.Grain[k] = diameter
		if p.present(k) && !(p.Fit.Setup.Phases[k].MuLinear() > 0) {
			return p, false
		}
	}
	out.tau, out.tauU = out.grainFactors(spheres)
	out.amounts, out.zeroU = divided(p.amounts, out.tau), divided(p.zeroU, out.tau)
	return &out, true
}

// allCorrected reports whether every phase that is there has a factor from weighed mixtures.
func (p *problem) allCorrected() bool {
	for k := range p.Roles {
		if p.present(k) && p.factorsOf([]int{k})[0] < 0 {
			return false
		}
	}
	return true
}
