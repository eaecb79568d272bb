package quantify

import (
	"errors"
	"fmt"
	"math"
)

// ErrStandard says that a scan gives no constant of an external standard; test with errors.Is.
var ErrStandard = errors.New("no constant from this standard")

// An External is an external standard: a constant K of diffractometer and counting time, and the mass attenuation of the
// specimen. With S_p the intensity of the strongest line, w_p = (S_p/RIR_p) (μ/ρ)/K as a mass fraction of what was
// scanned, since S_p = K RIR_p w_p/(μ/ρ) for a specimen that is thick, flat and larger than the beam. In terms of a
// structure this is w_p = S ρ V² (μ/ρ)/K. Source: O'Connor & Raven, Powder Diffr. 3 (1988) 2–6 (from memory).
type External struct {
	K, U float64 // counts × degrees × cm²/g, with its standard uncertainty

	// Attenuation is μ/ρ of everything scanned, cm²/g, from its chemistry. 0: it is computed from the phases found, which
	// holds when what does not diffract absorbs like the rest.
	Attenuation, AttenuationU float64 // with its standard uncertainty
}

// attenuationU is the relative standard uncertainty of the ratio of two computed mass attenuations: tables agree within
// about 2 % for the energies of laboratory tubes (from memory).
const attenuationU = 0.02

// Constant returns the K of External from a fitted scan of a pure standard, phase number p of the input, of which a mass
// fraction c (with standard uncertainty u) is crystalline: K = (S/RIR) (μ/ρ)/c. It returns ErrStandard when the scan does
// not show the phase, or its RIR or absorption is not known.
func Constant(in Input, p int, c, u float64) (External, error) {
	ph := in.Fit.Setup.Phases[p]
	switch {
	case !(ph.RIR.Value > 0):
		return External{}, fmt.Errorf("%w: %s has no reference intensity ratio", ErrStandard, ph.Name)
	case !(ph.MassAbsorption > 0):
		return External{}, fmt.Errorf("%w: the absorption of %s is not known", ErrStandard, ph.Name)
	case !(in.Fit.Scales[p] > 0) || !(c > 0 && c <= 1):
		return External{}, fmt.Errorf("%w: the scan does not show %s", ErrStandard, ph.Name)
	}
	all := newProblem(in)
	v := all.budget([]int{p}).total()[0][0]
	k := all.amounts[p] * ph.MassAbsorption / c
	return External{K: k, U: k * math.Sqrt(v+u*u/(c*c))}, nil
}

// external computes fractions of what was scanned and its amorphous part from an external standard. Without the
// attenuation of a phase, or with a constant that is no number above 0, they stay unknown.
func (p *problem) external(a *Answer, members []int) {
	s := p.External
	all := append(append([]int{}, members...), p.phasesOf(Preparation)...)
	m := scanned{members: len(members), given: s.Attenuation, mu: make([]float64, len(all))}
	logs := make([]float64, len(all))
	for i, k := range all {
		m.mu[i] = p.Fit.Setup.Phases[k].MassAbsorption
		if !(m.mu[i] > 0) && !(s.Attenuation > 0) {
			return
		}
		logs[i] = math.Log(math.Max(p.amounts[k], 1e-300))
	}
	if !(s.K > 0) || math.IsInf(s.K, 0) {
		return
	}
	u := attenuationU
	if s.Attenuation > 0 {
		u = math.Hypot(u, s.AttenuationU/s.Attenuation)
	}
	p.original(a, members, all, []extra{{s.K, s.U}, {1, u}}, m.fractions)
	a.Attenuation = m.attenuation(logs)
	a.AttenuationU = a.Attenuation * u
}

// scanned is a specimen whose fractions an external standard tells: mass attenuations of the phases that diffract, the
// specimen's own members first, and that of everything, 0 when it follows from theirs.
type scanned struct {
	members int
	given   float64
	mu      []float64
}

// attenuation returns μ/ρ of everything for logarithms of amounts.
func (m scanned) attenuation(logs []float64) float64 {
	if m.given > 0 {
		return m.given
	}
	var sum, weighted float64
	for i, mu := range m.mu {
		sum += math.Exp(logs[i])
		weighted += math.Exp(logs[i]) * mu
	}
	return weighted / sum
}

// fractions returns wt% of each member, then of what does not diffract, for logarithms of the amounts followed by K and a
// factor on the attenuation.
func (m scanned) fractions(x []float64) []float64 {
	n := len(m.mu)
	unit := 100 * m.attenuation(x) * x[n+1] / x[n]
	out := make([]float64, m.members+1)
	out[m.members] = 100
	for i := range n {
		w := unit * math.Exp(x[i])
		if i < m.members {
			out[i] = w
		}
		out[m.members] -= w
	}
	return out
}
