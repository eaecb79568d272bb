package quantify

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd"
)

// A Section says that the specimen is a polished section, whose regions need not be small beside the beam's reach. Without any
// intercept nothing is known of their size.
type Section struct {
	Perhaps    bool      // nobody said whether it is a section or a powder; without intercepts, grains or a standard in it, it may be either
	Intercept  []float64 // mean linear intercept of the regions of each phase of the fit, µm; 0 where not stated, nil for none
	InterceptU []float64 // relative standard uncertainties
	Common     float64   // of all regions that a line crosses, µm; 0 when not stated
	CommonU    float64   // its relative standard uncertainty
	CV2        float64   // square of the relative standard deviation of the intercepts; 0 when not stated
	CV2U       float64   // its standard uncertainty
}

// unstatedU is the standard uncertainty of the logarithm of the intercept of phases whose neighbours' alone is stated: a factor
// of two.
const unstatedU = 0.7

// A sizing is a Mosaic with the standard uncertainties of what is known of its regions.
type sizing struct {
	Mosaic
	own     []float64 // relative, of the intercept of each phase
	common  float64   // relative, of the common intercept
	spreadU float64   // of CV²
}

// sizes returns the model of a section; false when no intercept is stated.
func (s Section) sizes(mu []float64) (m sizing, ok bool) {
	m = sizing{Mosaic{Mu: mu, Intercept: s.Intercept, Common: s.Common, Spread: DefaultSpread}, s.InterceptU, s.CommonU, DefaultSpreadU}
	if s.CV2 > 0 {
		m.Spread, m.spreadU = s.CV2, s.CV2U
	}
	if s.Common > 0 {
		return m, true
	}
	var sum, n float64
	for _, l := range s.Intercept {
		if l > 0 {
			sum += math.Log(l)
			n++
		}
	}
	m.Common, m.common = math.Exp(sum/n), unstatedU
	return m, n > 0
}

// An Absorption says how the absorption in single grains was taken into account.
type Absorption string

// The ways. With the first two there is one value, with BothLimits and Either an interval from one limit to the other.
const (
	FinePowder  Absorption = "fine"    // every grain small beside the reach of the beam, or corrected after Brindley
	OfMosaic    Absorption = "mosaic"  // a section with a stated intercept
	BothLimits  Absorption = "limits"  // a section without
	NotKnownYet Absorption = "unknown" // a section with a phase whose absorption is not known
	Either      Absorption = "either"  // nobody said whether powder or section: the value of a fine powder with an interval that holds both
)

// asSection returns the answer for a section, which may hide a texture.
func (p *problem) asSection(powder Answer) Answer {
	q := *p
	q.seen, q.hidden = p.intensities(), p.hiddenTexture()
	return q.sectioned(powder)
}

// sectioned returns the answer for a section: by the model of a Mosaic where an intercept is stated, otherwise between both
// limits. powder is the answer for a fine powder.
func (p *problem) sectioned(powder Answer) Answer {
	mu := make([]float64, len(p.Roles))
	for k, phase := range p.Fit.Setup.Phases {
		mu[k] = phase.MuLinear() / p.volume[k]
		if p.present(k) && !(mu[k] > 0) {
			powder.Absorption = NotKnownYet
			return powder
		}
	}
	m, stated := p.Section.sizes(mu)
	var out Answer
	if stated {
		through, err := p.through(m.Mosaic)
		if err != nil {
			powder.Absorption = NotKnownYet
			return powder
		}
		through.sources = through.sizeSources(m)
		out = through.answer()
		out.Absorption = OfMosaic
	} else {
		out = p.between(m.Mosaic, powder)
		out.Absorption = BothLimits
	}
	for k := range out.Fractions {
		out.Fractions[k].Fine, out.Fractions[k].Coarse = powder.Fractions[k].Weight, powder.Fractions[k].Coarse
	}
	return out
}

// present reports whether a phase is a part of what was scanned.
func (p *problem) present(k int) bool {
	return p.amounts[k] > 0 && !math.IsInf(p.amounts[k], 0) && p.Roles[k] != Absent
}

// intensities returns what a Mosaic calls intensity: volumes as those of a fine powder would be.
func (p *problem) intensities() []float64 {
	y := make([]float64, len(p.amounts))
	for k := range y {
		if p.present(k) {
			y[k] = p.amounts[k] / p.Fit.Setup.Phases[k].Density * p.volume[k]
		}
	}
	return y
}

// depthShare is the share of the intensity of a phase that comes from above its depth.
const depthShare = 0.95

// depths fills in where the intensity comes from, for the strongest line in range of each phase.
func (p *problem) depths(a *Answer, members []int) {
	from, to := p.Fit.Setup.TwoTheta[0], p.Fit.Setup.TwoTheta[len(p.Fit.Setup.TwoTheta)-1]
	for _, k := range members {
		best := refdata.Line{}
		for _, l := range p.Fit.Setup.Phases[k].Lines {
			if l.TwoTheta >= from && l.TwoTheta <= to && l.Intensity > best.Intensity {
				best = l
			}
		}
		path := -math.Log1p(-depthShare) / (2 * a.MeanMu)
		if p.reach != nil {
			path = p.reach[k]
		}
		if depth := 1e4 * path * math.Sin(xrd.Radians(best.TwoTheta)/2); depth > 0 && !math.IsInf(depth, 0) {
			a.Fractions[k].Depth = depth
		}
	}
}

// trace is the share of a phase that is not seen and whose detection limit is asked for.
const trace = 1e-6

// through returns the problem with amounts that a mosaic explains; tau is 2 μ̄ ∫E², 1 in a fine powder.
func (p *problem) through(m Mosaic) (*problem, error) {
	y := p.intensities()
	v, err := m.Volumes(y)
	if err != nil {
		return nil, err
	}
	slopes, err := m.intensitySlopes(y)
	if err != nil {
		return nil, err
	}
	out := *p
	var known []int // and a trace of those that are not there
	var some []float64
	var mean float64
	for k := range v {
		if m.Mu[k] > 0 {
			known = append(known, k)
			some = append(some, max(v[k], trace))
			mean += v[k] * m.Mu[k]
		}
	}
	some, err = shares(some)
	if err != nil {
		return nil, err
	}
	for i := range some {
		some[i] /= 100
	}
	out.tau, out.tauU = make([]float64, len(v)), make([]float64, len(v))
	for k := range out.tau {
		out.tau[k] = 1
	}
	part := m.of(known)
	for i, path := range part.Paths(some) {
		out.tau[known[i]] = 2 * mean * path
	}
	out.reach = make([]float64, len(v))
	for i, path := range part.Reaches(some, depthShare) {
		out.reach[known[i]] = path
	}
	out.pull = zeros(len(v))
	for k := range v {
		if !p.present(k) {
			out.pull[k][k] = 1
			continue
		}
		for l := range v { // the level of all amounts follows that of all intensities
			out.pull[k][l] = slopes[k][l] + v[l]
		}
	}
	out.amounts, out.zeroU = divided(p.amounts, out.tau), divided(p.zeroU, out.tau)
	return &out, nil
}

// sizeSources returns what the intercepts and the model leave open.
func (p *problem) sizeSources(m sizing) []budgetPart {
	n := len(m.Mu)
	s, err := m.Slopes(p.seen)
	if err != nil {
		return nil
	}
	size, model := zeros(n), zeros(n)
	together := make([]float64, n)
	for k := range n {
		together[k] = s.Common[k]
		for q := range n {
			together[k] += s.Intercept[k][q]
		}
	}
	outer(size, s.Common, m.common)
	for q := range n {
		column := make([]float64, n)
		for k := range n {
			column[k] = s.Intercept[k][q]
		}
		if m.hasOwn(q) {
			outer(size, column, m.own[q])
		}
	}
	outer(model, together, modelU)
	outer(model, s.Spread, m.spreadU)
	return []budgetPart{{name: sourceIntercept, covariance: size}, {name: sourceMosaic, covariance: model}}
}

// outer adds u² d dᵀ.
func outer(to [][]float64, d []float64, u float64) {
	for i := range d {
		for j := range d {
			to[i][j] += u * u * d[i] * d[j]
		}
	}
}

// spanSizes are the intercepts, times μ̄, at which fractions between the limits are looked at.
var spanSizes = []float64{0, 0.1, 0.3, 1, 3, 10, math.Inf(1)}

// between returns the mean of both limits with intervals that hold those of every size of the regions.
func (p *problem) between(m Mosaic, powder Answer) Answer {
	members := p.phasesOf(Specimen)
	mean := p.meanAbsorption(p.amounts)
	var each []Answer
	var limit *problem
	for _, x := range spanSizes {
		m.Common = 0
		if x > 0 {
			m.Common = x / mean * 1e4
		}
		through, err := p.through(m)
		if err != nil {
			return powder
		}
		each, limit = append(each, through.answer()), through
	}
	out := p.middle(members, limit).answer()
	weights, volumes, originals := make([]Value, len(each)), make([]Value, len(each)), make([]Value, len(each))
	for k := range out.Fractions {
		f := &out.Fractions[k]
		for i, a := range each {
			weights[i], volumes[i], originals[i] = a.Fractions[k].Weight, a.Fractions[k].Volume, a.Fractions[k].Original
			f.Limit = max(f.Limit, a.Fractions[k].Limit)
		}
		f.Weight, f.Volume, f.Original = f.Weight.across(weights), f.Volume.across(volumes), f.Original.across(originals)
		f.Depth = each[len(each)/2].Fractions[k].Depth
	}
	return out
}

// across returns the value with an interval that holds the truth with 95 % whichever of some values, of which nobody knows
// which, estimates it. The truth cannot lie beyond both ends of a span, so that where the span is long beside the uncertainty
// each end needs its 95 % on one side only: C standard uncertainties with Φ(C + Δ/u) − Φ(−C) = 0.95 (Imbens and Manski,
// Econometrica 72 (2004) 1845, from memory).
func (v Value) across(values []Value) Value {
	least, most, half := math.Inf(1), math.Inf(-1), 0.0
	for _, x := range values {
		least, most, half = math.Min(least, x.Percent), math.Max(most, x.Percent), math.Max(half, (x.Hi-x.Lo)/2)
	}
	part := spanQuantile((most-least)*z95/half) / z95
	out := Value{v.Percent, math.Inf(1), math.Inf(-1)}
	for _, x := range values {
		out.Lo = math.Min(out.Lo, x.Percent-part*(x.Percent-x.Lo))
		out.Hi = math.Max(out.Hi, x.Percent+part*(x.Hi-x.Percent))
	}
	return out
}

// spanQuantile returns C with Φ(C + span) − Φ(−C) = 0.95 for a span in standard uncertainties; that of a span of 0 when it is
// not a number.
func spanQuantile(span float64) float64 {
	if !(span > 0) {
		return z95
	}
	lo, hi := oneSided95, z95
	for range 50 {
		if mid := (lo + hi) / 2; distuv.UnitNormal.CDF(mid+span)-distuv.UnitNormal.CDF(-mid) < 0.95 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// middle returns the problem with the mean of the fractions of a fine powder and of the coarse limit. The uncertainty between
// the two is that of a rectangle.
func (p *problem) middle(members []int, limit *problem) *problem {
	out := *p
	var fineSum, coarseSum float64
	for _, k := range members {
		fineSum += p.amounts[k]
		coarseSum += limit.amounts[k]
	}
	n := len(p.amounts)
	out.tau = make([]float64, n)
	apart := make([]float64, n)
	for k := range n {
		ratio := limit.amounts[k] / p.amounts[k] * fineSum / coarseSum // coarse over fine
		if !(ratio > 0) || math.IsInf(ratio, 0) {
			ratio = fineSum / coarseSum / limit.tau[k]
		}
		out.tau[k] = 2 / (1 + ratio)
		apart[k] = math.Log(ratio) / math.Sqrt(12)
	}
	unknown := zeros(n)
	outer(unknown, apart, 1)
	out.sources = []budgetPart{{name: sourceNoIntercept, covariance: unknown}}
	out.amounts, out.zeroU = divided(p.amounts, out.tau), divided(p.zeroU, out.tau)
	return &out
}
