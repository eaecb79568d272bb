package quantify

import (
	"math"
)

// A Source is one entry of an uncertainty budget: standard uncertainty in wt%.
type Source struct {
	Name string  // what the uncertainty comes from
	U    float64 // wt%
}

// A Value is a percentage with its 95 % interval. NaN means not known.
type Value struct {
	Percent float64 // wt%, or vol% of a volume
	Lo, Hi  float64 // ends of the 95 % interval, in the same unit
}

// unknown is a Value that could not be computed.
var unknown = Value{math.NaN(), math.NaN(), math.NaN()}

// A Fraction is the share of one phase.
type Fraction struct {
	Weight   Value    // wt% of the crystalline part of the specimen
	Volume   Value    // vol% of it, of the solid
	Original Value    // wt% of the original specimen with its amorphous part; unknown without a standard
	Fine     Value    // wt% of a section if it were a fine powder; unknown for a powder
	Coarse   Value    // wt% if every grain were much larger than 1/μ; unknown also when that makes no difference
	Limit    float64  // detection limit, wt%; NaN when unknown
	Depth    float64  // from which 95 % of the intensity of its strongest line in range comes, µm of the solid; NaN when unknown
	MuRatio  float64  // μ of the phase over the mean of the specimen; NaN when unknown
	Budget   []Source // of Weight
}

// An Answer holds the fractions, parallel to the phases of the fit, the covariance of their weights (wt%²; 0 for phases
// that are not the specimen's) and the absolute result of a standard.
type Answer struct {
	Fractions  []Fraction
	Covariance [][]float64 // wt%²
	// VolumeCovariance is that of the volumes, vol%²; 0 where a density is not known.
	VolumeCovariance [][]float64
	Amorphous        *Value // wt% of the original specimen; nil without a standard, or when the scan does not show it
	// Attenuation is the μ/ρ of the specimen that an external standard was used with, cm²/g; 0 without one.
	Attenuation, AttenuationU float64    // with its standard uncertainty
	Absorption                Absorption // how absorption in single grains was taken into account
	tau                       []float64  // what each amount was divided by for it
	MeanMu                    float64    // linear absorption of the solid specimen, 1/cm; 0 when not known
	Repeats                   *Repeats   // how several scans agree; nil for one
	// Withheld lists the phases whose missing RIR, or which being refused, makes the fractions unknown.
	Withheld []int
}

// The relative standard uncertainties that are taken when nothing better is known (common practice).
const (
	defaultRIRU = 0.10
	densityU    = 0.005
)

// Run computes the fractions: w_p = 100 a_p/Σ_q a_q with a_p = S_p V_p/(RIR_p V⁰_p τ_p), S being the intensity of the
// strongest line, V the fitted volume of the cell, V⁰ that of the reference and τ the absorption of grains where their size
// is known. Without V and τ this is the normalised RIR method of Chung, J. Appl. Cryst. 7 (1974) 526–531 (from memory). The
// sum is 100 by definition, so that an amorphous part is not seen. A phase of the specimen without RIR withholds all
// fractions, since their sum is then unknown; a fit without intensity, or scans without a phase in common, give unknown
// fractions.
func Run(in Input) Answer {
	if a := newAnswer(in); len(a.Withheld) > 0 {
		return a
	}
	p := newProblem(in)
	powder := p.answer()
	powder.Absorption = FinePowder
	if in.Section == nil || in.Grain != nil || p.incommensurate || !(len(p.phasesOf(Specimen)) > 0) {
		return p.loose(powder)
	}
	p.seen, p.hidden = p.intensities(), p.hiddenTexture()
	return p.sectioned(powder)
}

// newAnswer returns an answer that says nothing yet.
func newAnswer(in Input) Answer {
	n := len(in.Roles)
	a := Answer{Fractions: make([]Fraction, n), Covariance: zeros(n), VolumeCovariance: zeros(n), Withheld: in.withheld()}
	for i := range a.Fractions {
		a.Fractions[i] = Fraction{Weight: unknown, Volume: unknown, Original: unknown, Fine: unknown, Coarse: unknown, Limit: math.NaN(), Depth: math.NaN(), MuRatio: math.NaN()}
	}
	return a
}

// answer computes the fractions of a problem; see Run.
func (p *problem) answer() Answer {
	a := newAnswer(p.Input)
	a.Repeats, a.tau = p.repeats, p.tau
	members := p.phasesOf(Specimen)
	w, err := shares(pick(p.amounts, members))
	if err != nil || p.incommensurate {
		return a
	}
	p.weights(&a, members, w)
	p.volumes(&a, members, w)
	p.coarse(&a, members, w)
	p.depths(&a, members)
	for i, phase := range p.Fit.Setup.Phases {
		a.Fractions[i].Limit = p.limit(phase, p.tau[i], i)
	}
	switch {
	case p.Spike != nil:
		p.internal(&a, members)
	case p.External != nil:
		p.external(&a, members)
	}
	return a
}

func (p *problem) volumes(a *Answer, members []int, w []float64) {
	parts := make([]float64, len(members))
	for i, k := range members {
		rho := p.Fit.Setup.Phases[k].Density
		if !(rho > 0) {
			return
		}
		parts[i] = w[i] / rho * p.volume[k]
	}
	v, err := shares(parts)
	if err != nil {
		return
	}
	budget := p.budget(members)
	cov := budget.total()
	for i := range cov {
		cov[i][i] += densityU * densityU
	}
	cov = shareCovariance(v, cov)
	free := budget.freedom(shareSlopes(v), cov)
	for i, k := range members {
		f := &a.Fractions[k]
		f.Volume = interval(v[i], math.Sqrt(math.Max(0, cov[i][i])), free[i])
		f.Volume.Lo *= 1 - p.unexplained
		for j, l := range members {
			a.VolumeCovariance[k][l] = cov[i][j]
		}
	}
}

// Absorption contrast beyond which microabsorption matters (PRACTICE: μ_p/μ̄ outside 0.7 to 1.4).
const (
	leastMuRatio = 0.7
	mostMuRatio  = 1.4
)

// coarse computes the limit of grains much larger than 1/μ: each absorbs with its own μ, so that intensity is
// proportional to area/μ_p and mass to S_p μ_p/RIR_p.
func (p *problem) coarse(a *Answer, members []int, w []float64) {
	heavy := make([]float64, len(members))
	var mass, volume float64
	for i, k := range members {
		ph := p.Fit.Setup.Phases[k]
		if !(ph.MuLinear() > 0) {
			return
		}
		heavy[i] = w[i] * ph.MuLinear()
		mass += w[i] * ph.MassAbsorption
		volume += w[i] / ph.Density
	}
	a.MeanMu = mass / volume
	c, err := shares(heavy)
	if err != nil {
		return
	}
	budget := p.budget(members)
	cov := shareCovariance(c, budget.total())
	free := budget.freedom(shareSlopes(c), cov)
	matters := false
	for i, k := range members {
		f := &a.Fractions[k]
		f.MuRatio = p.Fit.Setup.Phases[k].MuLinear() / a.MeanMu
		matters = matters || f.MuRatio < leastMuRatio || f.MuRatio > mostMuRatio || c[i] < f.Weight.Lo || c[i] > f.Weight.Hi
	}
	for i, k := range members {
		if matters && p.Grain == nil {
			a.Fractions[k].Coarse = interval(c[i], math.Sqrt(math.Max(0, cov[i][i])), free[i])
		}
	}
}

func zeros(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// add adds c to the upper left of m.
func add(m, c [][]float64) {
	for i := range c {
		for j := range c[i] {
			m[i][j] += c[i][j]
		}
	}
}

func pick(v []float64, indices []int) []float64 {
	out := make([]float64, len(indices))
	for i, k := range indices {
		out[i] = v[k]
	}
	return out
}
