package quantify

import (
	"math"
	"slices"

	"phasetally/xrd"
)

// either returns the answer for a specimen of which nobody said whether it is a powder or a section. The values are those of a fine
// powder, which need no assumption about sizes; the intervals hold those of a powder of usual grains and those of a section with
// regions of any size, since nobody knows which of them the truth follows. Fine tells what a powder would be, Coarse a section of
// large regions. Where absorption differs too little to matter, all of these are the same, and the answer is that of a powder; so it
// is for what cannot be a section: a transmitted beam, and mixtures with factors from weighed ones.
func (p *problem) either(powder Answer) Answer {
	out := p.loose(powder)
	members := p.phasesOf(Specimen)
	if p.Fit.Setup.Instrument.Geometry == xrd.Transmission || p.allCorrected() || !powder.contrasts(members) {
		return out
	}
	section := p.asSection(powder)
	if section.Absorption != BothLimits {
		return out
	}
	apart := make([]float64, len(p.Roles))
	for _, k := range members {
		f, s := &out.Fractions[k], section.Fractions[k]
		f.Fine = f.Weight
		f.Weight, f.Volume, f.Original = f.Weight.holding(s.Weight), f.Volume.holding(s.Volume), f.Original.holding(s.Original)
		f.Limit = math.Max(f.Limit, s.Limit)
		// Between both readings all are equally likely: ⟨δ²⟩ = δ²/3, δ being the whole way from the value.
		apart[k] = (s.Coarse.Percent - f.Fine.Percent) / math.Sqrt(3)
		f.Budget = append(f.Budget, Source{sourceEither, math.Abs(apart[k])})
	}
	outer(out.Covariance, apart, 1)
	if out.Amorphous != nil && section.Amorphous != nil {
		v := out.Amorphous.holding(*section.Amorphous)
		out.Amorphous = &v
	}
	out.Absorption = Either
	return out
}

// contrasts reports whether absorption differs so that the size of grains or regions matters.
func (a Answer) contrasts(members []int) bool {
	return slices.ContainsFunc(members, func(k int) bool { return !math.IsNaN(a.Fractions[k].Coarse.Percent) })
}

// holding returns the value with an interval that holds that of another, too.
func (v Value) holding(other Value) Value {
	if math.IsNaN(other.Lo) || math.IsNaN(other.Hi) {
		return v
	}
	return Value{v.Percent, math.Min(v.Lo, other.Lo), math.Max(v.Hi, other.Hi)}
}
