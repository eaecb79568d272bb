package refdata

import "math"

// How far two determinations of one structure may differ: cells by 0.2 %, as temperatures and samples make them, intensities
// by 15 of 100 where displacement parameters and texture of lists differ (common practice).
const (
	sameSpacing   = 2e-3
	sameIntensity = 15
	strongEnough  = 20 // of 100: weaker lines decide nothing
)

// SameSubstance tells whether two entries, of several collections say, are one substance: the same elements in nearly
// the same shares and the same strong lines, each with a partner of nearly its spacing and intensity in the other. It takes symmetry and atoms for what
// their lines are, which is all that a scan sees.
func SameSubstance(a, b Entry) bool {
	if a.Elements != b.Elements || a.Elements == (ElementSet{}) || len(a.Strong) == 0 || len(b.Strong) == 0 {
		return false
	}
	return sameFormula(a.Formula, b.Formula) && partnered(a.Strong, b.Strong) && partnered(b.Strong, a.Strong)
}

// sameShare is how far atomic fractions of one substance may differ: superstructures of other compositions can have the
// strong lines of the parent.
const sameShare = 0.03

// sameFormula is true where either formula cannot be read.
func sameFormula(a, b string) bool {
	f, errA := ParseFormula(a)
	g, errB := ParseFormula(b)
	if errA != nil || errB != nil {
		return true
	}
	return f.Like(g, sameShare)
}

// Like tells whether two formulae have the same elements in the same atomic fractions within a tolerance.
func (f Formula) Like(g Formula, tolerance float64) bool {
	if f.Elements() != g.Elements() {
		return false
	}
	atoms := func(f Formula) (sum float64) {
		for _, t := range f {
			sum += t.Atoms
		}
		return sum
	}
	nf, ng := atoms(f), atoms(g)
	for _, t := range f {
		for _, u := range g {
			if u.Element == t.Element && !(math.Abs(t.Atoms/nf-u.Atoms/ng) <= tolerance) {
				return false
			}
		}
	}
	return true
}

// partnered asks for a partner of every strong line that the other's range of spacings and intensities can have.
func partnered(lines, others []StrongLine) bool {
	lo, hi := math.Inf(1), 0.0
	for _, o := range others {
		lo, hi = math.Min(lo, float64(o.D)), math.Max(hi, float64(o.D))
	}
	for _, l := range lines {
		d := float64(l.D)
		if l.Intensity < strongEnough || d < lo*(1-sameSpacing) || d > hi*(1+sameSpacing) && l.Intensity < 100-sameIntensity {
			continue
		}
		sum := 0.0
		for _, o := range others { // what one table lists as two lines, another may list as one
			if math.Abs(float64(o.D)/d-1) <= sameSpacing {
				sum += float64(o.Intensity)
			}
		}
		if !(math.Abs(sum-float64(l.Intensity)) <= sameIntensity) && sum < float64(l.Intensity) || sum == 0 {
			return false
		}
	}
	return true
}
