package quantify

import "math"

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
	return p.withDepartures(p.amongRivals(p.run()))
}

// run computes the fractions of the phases as they are named.
func (p *problem) run() Answer {
	powder := p.answer()
	powder.Absorption = FinePowder
	if p.Section == nil || p.Grain != nil || p.incommensurate || !(len(p.phasesOf(Specimen)) > 0) {
		return p.loose(powder)
	}
	if p.Section.Perhaps {
		return p.either(powder)
	}
	return p.asSection(powder)
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
	if !p.amountsOnly {
		for i, phase := range p.Fit.Setup.Phases {
			a.Fractions[i].Limit = p.limit(phase, p.tau[i], i)
		}
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
