package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// Role says how a phase counts.
type Role int

// The roles: part of the specimen, an artefact of preparation, the standard that was added, a phase that was asked for
// and is not there (which gets a limit and no fraction).
const (
	Specimen Role = iota
	Preparation
	Standard
	Absent
)

// A Spike is a standard mixed into the powder.
type Spike struct {
	Phase          int     // index of the standard
	WeightPercent  float64 // of the spiked powder
	Crystallinity  float64 // mass fraction of the standard that is crystalline; 0 means 1
	CrystallinityU float64
}

// Input is a fitted pattern with what is known of its phases. Roles is parallel to the phases of the fit.
type Input struct {
	Fit         *pattern.Fit
	Roles       []Role
	Spike       *Spike // nil for none
	External    *External
	Threshold   float64 // significance at which a phase is accepted, for detection limits
	Unexplained float64 // share of the net intensity that no phase explains, 0 to 1

	// Grain holds the diameter of the grains of each phase of a powder, µm, parallel to Roles; 0 where not known, nil for
	// none. Fractions are then corrected after Brindley.
	Grain []float64

	// Refused marks phases whose intensities say nothing of their amount; nil for none. Of the specimen, they withhold all
	// fractions.
	Refused []bool

	// More holds fits of further scans of the same specimen, whose phases are told by their ids; nil for none. Fractions
	// are then those that all scans agree on best.
	More []*pattern.Fit

	// Optics holds by how much the logarithm of each scale changes for one standard uncertainty of optics that were fitted, parallel
	// to Roles; nil for none.
	Optics []float64

	joint     *joint    // of several scans; nil for one
	scatters  []scatter // of the lines of each phase
	tau, tauU []float64 // Brindley factor of each phase with its relative uncertainty; nil for none
}

// A Source is one entry of an uncertainty budget: standard uncertainty in wt%.
type Source struct {
	Name string
	U    float64
}

// A Value is a percentage with its 95 % interval. NaN means not known.
type Value struct{ Percent, Lo, Hi float64 }

// unknown is a Value that could not be computed.
var unknown = Value{math.NaN(), math.NaN(), math.NaN()}

// A Fraction is the share of one phase.
type Fraction struct {
	Weight   Value // of the crystalline part of the specimen
	Volume   Value
	Original Value   // wt% of the original specimen with its amorphous part; unknown without a standard
	Coarse   Value   // wt% if every grain were much larger than 1/μ; unknown also when that makes no difference
	Limit    float64 // detection limit, wt%; NaN when unknown
	MuRatio  float64 // μ of the phase over the mean of the specimen; NaN when unknown
	Budget   []Source
}

// An Answer holds the fractions, parallel to the phases of the fit, the covariance of their weights (wt%²; 0 for phases
// that are not the specimen's) and the absolute result of a standard.
type Answer struct {
	Fractions  []Fraction
	Covariance [][]float64
	Amorphous  *Value // wt% of the original specimen; nil without a standard, or when the scan does not show it
	// Attenuation is the μ/ρ of the specimen that an external standard was used with, cm²/g; 0 without one.
	Attenuation, AttenuationU float64
	MeanMu                    float64  // linear absorption of the solid specimen, 1/cm; 0 when not known
	Repeats                   *Repeats // how several scans agree; nil for one
	// Withheld lists the phases whose missing RIR, or which being refused, makes the fractions unknown.
	Withheld []int
}

// The relative standard uncertainties that are taken when nothing better is known (common practice).
const (
	defaultRIRU = 0.10
	densityU    = 0.005
)

// Run computes the fractions. A phase of the specimen without RIR withholds all fractions, since their sum is then
// unknown; a fit without intensity gives unknown fractions.
func Run(in Input) Answer {
	n := len(in.Roles)
	a := Answer{Fractions: make([]Fraction, n), Covariance: zeros(n)}
	for i := range a.Fractions {
		a.Fractions[i] = Fraction{Weight: unknown, Volume: unknown, Original: unknown, Coarse: unknown, Limit: math.NaN(), MuRatio: math.NaN()}
		if in.needsRIR(i) && (!(in.Fit.Setup.Phases[i].RIR.Value > 0) || in.Refused != nil && in.Refused[i]) {
			a.Withheld = append(a.Withheld, i)
		}
	}
	if len(a.Withheld) > 0 {
		return a
	}
	in.scatters = scatters(in.Fit)
	if len(in.More) > 0 {
		in, a.Repeats = in.join()
	}
	in.tau, in.tauU = in.grains()
	amounts := in.amounts()
	members := in.members(Specimen)
	if len(members) == 0 {
		return a
	}
	w, err := shares(pick(amounts, members))
	if err != nil {
		return a
	}
	a.weights(in, members, w)
	a.volumes(in, members, w)
	a.coarse(in, members, w)
	a.limits(in, amounts, members)
	switch {
	case in.Spike != nil:
		a.internal(in, amounts, members)
	case in.External != nil:
		a.external(in, amounts, members)
	}
	return a
}

// needsRIR reports whether the fractions depend on the amount of phase number p: that of a preparation artefact does not
// matter unless everything is set against a standard.
func (in Input) needsRIR(p int) bool {
	r := in.Roles[p]
	return r == Specimen || (in.Spike != nil || in.External != nil) && r != Absent
}

// amounts returns S_p/RIR_p, proportional to mass. RIR is I/(V²ρ), ρV is fixed, so that a cell that has grown by a
// factor f diffracts 1/f as strongly per mass; grains that absorb more than the mean show less of themselves.
func (in Input) amounts() []float64 {
	out := make([]float64, len(in.Roles))
	for i, s := range in.Fit.Scales {
		out[i] = s * in.Fit.VolumeRatio(i) / in.Fit.Setup.Phases[i].RIR.Value
		if in.tau != nil {
			out[i] /= in.tau[i]
		}
	}
	return out
}

func (in Input) members(role Role) []int {
	var out []int
	for i, r := range in.Roles {
		if r == role {
			out = append(out, i)
		}
	}
	return out
}

// zeroShare returns the standard uncertainty, wt%, of a phase whose scale is 0.
func (in Input) zeroShare(p int, members []int) float64 {
	var total float64
	for _, a := range pick(in.amounts(), members) {
		total += a
	}
	return percentOf(in.Fit.ZeroU[p]/in.Fit.Setup.Phases[p].RIR.Value, total, total)
}

func (a *Answer) volumes(in Input, members []int, w []float64) {
	parts := make([]float64, len(members))
	for i, p := range members {
		rho := in.Fit.Setup.Phases[p].Density
		if !(rho > 0) {
			return
		}
		parts[i] = w[i] / rho * in.Fit.VolumeRatio(p)
	}
	v, err := shares(parts)
	if err != nil {
		return
	}
	budget := in.budget(members)
	cov := budget.total()
	for i := range cov {
		cov[i][i] += densityU * densityU
	}
	cov = shareCovariance(v, cov)
	free := budget.freedom(shareSlopes(v), cov)
	for i, p := range members {
		f := &a.Fractions[p]
		f.Volume = interval(v[i], math.Sqrt(math.Max(0, cov[i][i])), free[i])
		f.Volume.Lo *= 1 - in.Unexplained
	}
}

// Absorption contrast beyond which microabsorption matters (PRACTICE: μ_p/μ̄ outside 0.7 to 1.4).
const (
	leastMuRatio = 0.7
	mostMuRatio  = 1.4
)

// coarse computes the limit of grains much larger than 1/μ: each absorbs with its own μ, so that intensity is
// proportional to area/μ_p and mass to S_p μ_p/RIR_p.
func (a *Answer) coarse(in Input, members []int, w []float64) {
	heavy := make([]float64, len(members))
	var mass, volume float64
	for i, p := range members {
		ph := in.Fit.Setup.Phases[p]
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
	budget := in.budget(members)
	cov := shareCovariance(c, budget.total())
	free := budget.freedom(shareSlopes(c), cov)
	matters := false
	for i, p := range members {
		f := &a.Fractions[p]
		f.MuRatio = in.Fit.Setup.Phases[p].MuLinear() / a.MeanMu
		matters = matters || f.MuRatio < leastMuRatio || f.MuRatio > mostMuRatio || c[i] < f.Weight.Lo || c[i] > f.Weight.Hi
	}
	for i, p := range members {
		if matters && in.Grain == nil {
			a.Fractions[p].Coarse = interval(c[i], math.Sqrt(math.Max(0, cov[i][i])), free[i])
		}
	}
}

// limits computes for every phase the least amount that would have been accepted: (threshold + 1.645) σ of its scale
// at 0, in wt% beside the others. Source: Currie, Anal. Chem. 40 (1968) 586 (from memory), with the threshold in force.
func (a *Answer) limits(in Input, amounts []float64, members []int) {
	var total float64
	for _, p := range members {
		total += amounts[p]
	}
	for p := range in.Roles {
		u := in.Fit.ZeroU[p]
		if in.Fit.Scales[p] > 0 {
			u = scaleUAtZero(in.Fit, in.Fit.Curves[p], in.Fit.Curves[p], in.Fit.Scales[p])
		}
		limit := (in.Threshold + 1.645) * u / in.Fit.Setup.Phases[p].RIR.Value
		others := total
		if in.Roles[p] == Specimen {
			others -= amounts[p]
		}
		a.Fractions[p].Limit = percentOf(limit, others, total)
	}
}

// percentOf returns the share of an amount beside others; where nothing else is there, beside the total.
func percentOf(amount, others, total float64) float64 {
	if !(others > 0.01*total) {
		others = total
	}
	return 100 * amount / (amount + others)
}

// scaleUAtZero returns the standard uncertainty of a scale were it 0, from the profile (scale × column) and the own
// intensity that is then taken out of the variance.
func scaleUAtZero(f *pattern.Fit, curve, own []float64, scale float64) float64 {
	if !(scale > 0) {
		return math.NaN()
	}
	var sum float64
	for i, c := range curve {
		others := f.Fitted[i] - f.Background[i] - own[i]
		d := f.Kappa * math.Max(0, others)
		v := f.Noise[i] + d*d
		if g := f.Setup.Gain; g > 0 {
			v = math.Max(v-g*own[i], 0.5*g*g)
		}
		sum += c * c / v
	}
	return scale / math.Sqrt(sum)
}

// DetectionLimit returns the least wt% of a phase that is not part of the fit and would have been accepted at the
// threshold; NaN when its RIR is not known or it has no line in range.
func DetectionLimit(in Input, p refdata.Phase) float64 {
	if !(p.RIR.Value > 0) {
		return math.NaN()
	}
	set := in.Fit.Setup
	set.Start.Values = in.Fit.Values()
	none := make([]float64, len(in.Fit.Fitted))
	u := scaleUAtZero(in.Fit, pattern.Sketch(set, p, 1, set.Start.Values[pattern.Key{Kind: pattern.Displacement}], 0), none, 1)
	var total float64
	amounts := in.amounts()
	for _, q := range in.members(Specimen) {
		total += amounts[q]
	}
	limit := (in.Threshold + 1.645) * u / p.RIR.Value
	if !(total > 0) || math.IsInf(u, 0) {
		return math.NaN()
	}
	return 100 * limit / (limit + total)
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
