package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/refdata/element"
)

// Relative standard uncertainties of a ratio that is computed from a published structure.
const (
	formFactorU = 0.002 / 1.7320508075688772 // two tables of f0 differ by up to 0.2 % in I/Ic (oracle, read); rectangular
	siteU       = 0.005                      // coordinates and occupancies of good refinements of one structure (common practice)
	judgedU     = 0.05                       // a structure that is only roughly known (common practice)
)

// RatioU returns the relative standard uncertainty of the RIR of a phase. For one computed from a structure it is what
// the tables of form factors and dispersion and ordinary refinements leave open: the dispersion of each element is as
// uncertain as Chantler's and Cromer & Liberman's tables differ (one standard deviation of two values is their difference
// over √2), and moves |F|² by 2 n Δf′/Σ n f. The fit varies the overall displacement parameter; that elements differ from
// it one by one, by 30 %, moves |F|² by 2 s² ΔB c for an element with a share c of the amplitude. Where displacement parameters were assumed or the structure is of medium or
// low confidence it is at least 5 %; for other ratios it is what they came with, 10 % when they came with nothing.
func RatioU(p refdata.Phase) float64 {
	given := p.RIR.RelU
	if !(given > 0) {
		given = defaultRIRU
	}
	if p.RIR.Origin != "computed" || !structural(p) {
		return given
	}
	u := math.Sqrt(formFactorU*formFactorU + siteU*siteU + elementVariance(p))
	if p.AssumedB || p.Confidence == "medium" || p.Confidence == "low" {
		u = math.Max(u, judgedU)
	}
	return u
}

// structural reports whether the lines of a phase come from its structure: they then carry |F|².
func structural(p refdata.Phase) bool {
	k := p.Strongest()
	return k >= 0 && p.Cell != nil && p.MeanB > 0 && len(p.Lines[k].Families) > 0 && p.Lines[k].Families[0].F2 > 0
}

// elementVariance returns the relative variance of |F|², at the mean (sin θ/λ)² of the lines, that f′ and the
// displacement parameters of the elements leave open. Of an element's own ΔB the part c that the overall displacement
// parameter takes up is left out: a phase of one element has none.
func elementVariance(p refdata.Phase) float64 {
	s2 := meanS2(p)
	wavelength := p.Beam.Radiation.KAlpha1
	var amplitude, dispersion float64
	var parts []float64
	for _, c := range p.Composition {
		e, ok := element.Lookup(c.Symbol)
		if !ok || !(c.MassFraction > 0 && e.Weight > 0) {
			continue
		}
		n := c.MassFraction / e.Weight
		here, _, _ := element.Dispersion(e.Z, wavelength)
		one, _, _ := element.DispersionFrom(element.Chantler, e.Z, wavelength)
		other, _, _ := element.DispersionFrom(element.CromerLiberman, e.Z, wavelength)
		part := n * (e.F0(s2) + here)
		parts = append(parts, part)
		amplitude += part
		dispersion += n * n * (one - other) * (one - other) / 2
	}
	if !(amplitude > 0) {
		return judgedU * judgedU
	}
	variance := 4 * dispersion / (amplitude * amplitude)
	step := 2 * s2 * refdata.RelativeBU * p.MeanB
	for _, part := range parts {
		c := part / amplitude
		variance += step * step * c * c * (1 - c)
	}
	return variance
}

// meanS2 returns the mean (sin θ/λ)² of the lines, Å⁻², each with the weight of its intensity.
func meanS2(p refdata.Phase) float64 {
	var sum, weight float64
	for _, l := range p.Lines {
		sum += l.Intensity / (4 * l.D * l.D)
		weight += l.Intensity
	}
	return sum / weight
}
