package plan

import (
	"maps"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// yields are fluorescence yields ω_K (of the L3 shell for elements beyond antimony). Source: Krause, J. Phys. Chem. Ref. Data 8
// (1979) 307 (from memory, two digits).
var yields = map[string]float64{"Sc": 0.19, "Ti": 0.21, "V": 0.24, "Cr": 0.28, "Mn": 0.31, "Fe": 0.34, "Co": 0.37, "Ni": 0.41, "Cu": 0.44, "Zn": 0.47,
	"Ga": 0.51, "Ge": 0.54, "As": 0.56, "Se": 0.59, "Br": 0.62, "Rb": 0.67, "Sr": 0.69, "Y": 0.71, "Zr": 0.73, "Nb": 0.75, "Mo": 0.76, "Ru": 0.79,
	"Nd": 0.13, "Pm": 0.14, "Sm": 0.15, "Eu": 0.15, "Gd": 0.16, "Tb": 0.16, "Dy": 0.17}

const (
	electronRadius = 2.8179e-5 // Å
	shellShare     = 0.87      // of the absorption above an edge that is of its shell: 1 − 1/jump, jump near 8 (from memory)
	ownAbsorption  = 0.25      // absorption of the glow over that of the beam, across the edge about a fifth to a third (from memory)
)

// FluorescenceRatio returns the counts/s of fluorescence, without any energy discrimination, over those at the top of corundum
// 113 on the same set-up, for a mixture of given mass fractions.
//
// Per incident photon a thick specimen sends ω w τ/μ /(1 + μ_f/μ)/4π of fluorescence into each unit of solid angle; a receiving
// slit of the angular width δ sees δ h/R of it, h being its height. Of a ring the same height takes (Warren, X-ray Diffraction
// (1969) 4.7, from memory) r_e² λ³ m|F|²/(V² 2μ) (1 + cos²2θ)/(sin θ sin 2θ)/(16π R) h, at its top δ over the integral breadth of
// the line. Height, radius and slit cancel.
func FluorescenceRatio(phases []refdata.Phase, weights []float64, r xrd.Radiation, ins xrd.Instrument) (ratio float64, glowing []string) {
	var mix, glow float64
	shares := elementShares(phases, weights)
	glowing = []string{}
	for _, e := range slices.Sorted(maps.Keys(shares)) {
		el, ok := element.Lookup(e)
		if !ok {
			continue
		}
		mu, _ := element.MassAttenuation(el.Z, r.KAlpha1)
		mix += shares[e] * mu
		if slices.Contains(r.Glowing(), e) {
			glow += yields[e] * shellShare * shares[e] * mu
			if shares[e] > 0.01 {
				glowing = append(glowing, e)
			}
		}
	}
	if !(mix > 0) || !(glow > 0) {
		return 0, glowing
	}
	flat := glow / mix / (1 + ownAbsorption) / (4 * math.Pi)
	return flat / corundumTop(r, ins), glowing
}

// corundumTop is what the top of corundum 113 sends per incident photon into each unit of solid angle.
func corundumTop(r xrd.Radiation, ins xrd.Instrument) float64 {
	s, err := structure.FromRecord(structure.Corundum())
	if err != nil {
		return math.NaN()
	}
	p, err := s.Phase(refdata.Beam{Radiation: r})
	if err != nil {
		return math.NaN()
	}
	for _, l := range p.Lines {
		if math.Abs(l.D-2.0853) > 0.003 {
			continue
		}
		var f2 float64
		for _, f := range l.Families {
			f2 += float64(f.Multiplicity) * f.F2
		}
		sin, cos := math.Sincos(xrd.Radians(l.TwoTheta) / 2)
		cos2 := 1 - 2*sin*sin
		fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(l.TwoTheta), ins.LorentzianFWHM(l.TwoTheta))
		breadth := xrd.Radians(xrd.IntegralBreadth(fwhm, eta))
		volume, mu := p.Cell.Volume(), p.MuLinear()*1e-8 // Å³, 1/Å
		power := electronRadius * electronRadius * math.Pow(r.KAlpha1, 3) * f2 / (volume * volume * 2 * mu) * (1 + cos2*cos2) / (2 * sin * sin * cos) / (16 * math.Pi)
		return power / breadth
	}
	return math.NaN()
}

// elementShares returns the mass fractions of the elements.
func elementShares(phases []refdata.Phase, weights []float64) map[string]float64 {
	out := map[string]float64{}
	for i, p := range phases {
		for _, e := range p.Composition {
			out[e.Symbol] += weights[i] / 100 * e.MassFraction
		}
	}
	return out
}
