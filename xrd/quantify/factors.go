package quantify

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
)

// Why factors cannot be fitted; test with errors.Is.
var (
	ErrUnlinked = errors.New("mixtures that share no phase")
	ErrFactor   = errors.New("no factor from this mixture")
)

// A Weighed is a fitted scan of a mixture whose composition was weighed.
type Weighed struct {
	Input
	Percent []float64 // wt% as weighed, parallel to the phases of the fit; 0 for what was not weighed in
	U       []float64 // standard uncertainties, wt%; nil: those of a balance, which do not matter
}

// A Factor is what the reference intensity ratio of a phase has to be multiplied by.
type Factor struct {
	ID       string  // of the phase
	RIR      float64 // reference intensity ratio that it multiplies
	Value    float64 // the factor, over that of the reference phase
	Scatter  float64 // relative standard deviation of an amount that the lines of the mixtures let expect
	Mixtures int     // in which it was weighed
}

// Factors correct reference intensity ratios by mixtures of known composition. Only ratios of factors are known: that of
// the reference is 1.
type Factors struct {
	Reference  string      // id of the phase whose factor is 1
	ReferenceU float64     // relative standard uncertainty of the reference intensity ratio of Reference, of which nothing is learnt
	List       []Factor    // a factor a phase
	Covariance [][]float64 // of the logarithms of the factors, order of List; 0 for the reference

	// Repeatability is the relative standard deviation by which the amounts of one more mixture depart from the factors
	// beyond counting, RepeatFreedom the degrees of freedom on which it rests.
	Repeatability, RepeatFreedom float64

	// Agreement is the probability that mixtures of one preparation differ from common factors by more than these do, 1 where
	// nothing compares them.
	Agreement float64
}

// mountU is the relative standard deviation of intensities between mounts of one powder that is taken when nothing else is known:
// 1 to 3 % (common practice).
const mountU = 0.02

// priorFreedom is how many degrees of freedom of repeats the scatter of lines is worth as a guess of the repeatability: as
// many as the least that tells anything (common practice).
const priorFreedom = 1.0

// FitFactors finds one factor for each phase from mixtures. With w the weighed fraction, a the amount that intensity and
// reference intensity ratio give, in mixture i
//
//	ln(a_ip/w_ip) = ln k_i + ln F_p + e_ip + b_ip,  cov e_i = counting and weighing of mixture i,  var b = τ²,
//
// which is the model of several scans of one specimen (see combination) with a/w in the place of amounts: generalised least
// squares on the log-ratios, τ by the method of moments. F is defined up to a common factor, which is fixed by F = 1 for the
// reference: the phase named, else that of the most mixtures. τ² rests on few degrees of freedom ν: s², the scatter of lines and that of
// mounts, is a guess that counts as one more, (s² + ν τ²)/(1 + ν). A phase that one of the
// mixtures does not show, or whose reference intensity ratio is missing, is ErrFactor; mixtures that fall into groups without
// a common phase are ErrUnlinked, since factors then compare within a group only.
func FitFactors(mixtures []Weighed, reference string) (Factors, error) {
	ids := weighedIDs(mixtures)
	scans := make([]observed, len(mixtures))
	for i, m := range mixtures {
		var err error
		if scans[i], err = m.overWeighed(ids); err != nil {
			return Factors{}, err
		}
	}
	c, ok := newCombination(scans, make([]Role, len(ids)))
	if !ok {
		return Factors{}, fmt.Errorf("%w: %s", ErrUnlinked, groups(mixtures, ids))
	}
	f := Factors{List: make([]Factor, len(ids))}
	for i, id := range ids {
		f.List[i] = mixturesOf(mixtures, id)
	}
	if err := f.refer(mixtures, reference); err != nil {
		return f, err
	}
	f.repeats(scans, c.repeats)
	c.repeats.Between = f.Repeatability
	c.solve(f.Repeatability, false)
	o, _, _ := c.result()
	f.relate(o)
	return f, nil
}

// weighedIDs lists the phases that were weighed, in the order of the mixtures.
func weighedIDs(mixtures []Weighed) (ids []string) {
	for _, m := range mixtures {
		for k, p := range m.Fit.Setup.Phases {
			if m.Percent[k] > 0 && !slices.Contains(ids, p.ID) {
				ids = append(ids, p.ID)
			}
		}
	}
	return ids
}

// overWeighed returns what a mixture says of amounts over weighed fractions, in the order of ids.
func (m Weighed) overWeighed(ids []string) (observed, error) {
	all := m.Scan().observe(m.Fit.Setup.Phases)
	n := len(ids)
	o := observed{amounts: make([]float64, n), zeroU: make([]float64, n), volume: ones(n), counting: zeros(n), scatters: zeros(n), scatterFree: make([]float64, n)}
	own := make([]int, n)
	for i, id := range ids {
		own[i] = indexOf(m.Fit, id)
		if k := own[i]; k < 0 || !(m.Percent[k] > 0) {
			own[i], o.zeroU[i] = -1, math.Inf(1)
			continue
		} else if a := all.amounts[k]; !(a > 0) || math.IsInf(a, 0) {
			return o, fmt.Errorf("%w: the scan does not show %s, or its reference intensity ratio is not known", ErrFactor, id)
		}
	}
	for i, k := range own {
		for j, l := range own {
			if k >= 0 && l >= 0 {
				o.counting[i][j], o.scatters[i][j] = all.counting[k][l], all.scatters[k][l]
			}
		}
		if k >= 0 {
			o.amounts[i], o.scatterFree[i] = all.amounts[k]/m.Percent[k], all.scatterFree[k]
			if m.U != nil {
				o.counting[i][i] += square(m.U[k] / m.Percent[k])
			}
		}
	}
	return o, nil
}

// mixturesOf returns the factor of a phase, 1, with its reference and how many mixtures have it.
func mixturesOf(mixtures []Weighed, id string) Factor {
	f := Factor{ID: id, Value: 1}
	for _, m := range mixtures {
		if k := indexOf(m.Fit, id); k >= 0 && m.Percent[k] > 0 {
			f.RIR = m.Fit.Setup.Phases[k].RIR.Value
			f.Mixtures++
		}
	}
	return f
}

// refer chooses the phase whose factor is 1: the one named, else the one of the most mixtures.
func (f *Factors) refer(mixtures []Weighed, named string) error {
	best := slices.IndexFunc(f.List, func(x Factor) bool { return named != "" && strings.EqualFold(x.ID, named) })
	if named != "" && best < 0 {
		return fmt.Errorf("%w: the reference %s is in none of the mixtures", ErrFactor, named)
	}
	for i, x := range f.List {
		if named == "" && (best < 0 || x.Mixtures > f.List[best].Mixtures) {
			best = i
		}
	}
	f.Reference = f.List[best].ID
	for _, m := range mixtures {
		if k := indexOf(m.Fit, f.Reference); k >= 0 {
			f.ReferenceU = RatioU(m.Fit.Setup.Phases[k])
		}
	}
	return nil
}

// repeats works out the repeatability and the scatter of lines that each phase has in the mixtures.
func (f *Factors) repeats(scans []observed, r Repeats) {
	var sum, free, n float64
	for i := range f.List {
		var own float64
		for _, o := range scans {
			if o.amounts[i] > 0 {
				own += o.scatters[i][i] / float64(f.List[i].Mixtures)
				free += o.scatterFree[i]
				n++
			}
		}
		f.List[i].Scatter = math.Sqrt(math.Max(0, own))
		sum += own * float64(f.List[i].Mixtures)
	}
	guess, nu := (sum/n+square(mountU))*priorFreedom, float64(r.Freedom)
	seen := nu * square(r.Between)
	f.Agreement = 1
	if nu > 0 { // variances compared: what mixtures differ by, and what lines and mounts let expect
		f.Agreement = distuv.F{D1: nu, D2: math.Max(1, free/n)}.Survival(square(r.Between) * priorFreedom / guess)
	}
	v := (guess + seen) / (priorFreedom + nu)
	f.Repeatability = math.Sqrt(v)
	f.RepeatFreedom = math.Max(1, free/n)
	if spread := square(guess)/(free/n) + square(seen)/math.Max(1, nu); spread > 0 {
		f.RepeatFreedom = math.Max(1, square(guess+seen)/spread)
	}
}

// relate fills in the factors with their covariance, relative to the reference.
func (f *Factors) relate(o observed) {
	r, contrast := f.index(f.Reference), zeros(len(f.List))
	for i := range f.List {
		contrast[i][i] = 1
		contrast[i][r]--
		f.List[i].Value = o.amounts[i] / o.amounts[r]
	}
	cov := zeros(len(f.List))
	add(cov, o.counting)
	add(cov, o.between)
	f.Covariance = sandwich(contrast, cov)
}

// Of returns the factor of a phase with the standard uncertainty of its logarithm, and false for a phase without one.
func (f Factors) Of(id string) (Factor, float64, bool) {
	i := f.index(id)
	if i < 0 {
		return Factor{}, 0, false
	}
	return f.List[i], math.Sqrt(math.Max(0, f.Covariance[i][i])), true
}

// index returns the number of a phase, -1 without a factor.
func (f Factors) index(id string) int {
	return slices.IndexFunc(f.List, func(x Factor) bool { return strings.EqualFold(x.ID, id) })
}

// groups names the groups of phases that no mixture links.
func groups(mixtures []Weighed, ids []string) string {
	group := map[string]int{}
	for i, id := range ids {
		group[id] = i
	}
	for range ids { // a link may join groups that others have joined
		for _, m := range mixtures {
			least := len(ids)
			for k, p := range m.Fit.Setup.Phases {
				if m.Percent[k] > 0 {
					least = min(least, group[p.ID])
				}
			}
			for k, p := range m.Fit.Setup.Phases {
				if m.Percent[k] > 0 {
					group[p.ID] = least
				}
			}
		}
	}
	var names []string
	for g := range ids {
		members := slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return group[id] != g })
		if len(members) > 0 {
			names = append(names, strings.Join(members, ", "))
		}
	}
	return strings.Join(names, " | ")
}

// Apply returns a phase with its reference intensity ratio corrected, and false for one without a factor, or one that is
// corrected already.
func (f Factors) Apply(p refdata.Phase) (refdata.Phase, bool) {
	i := f.index(p.ID)
	if i < 0 || !(p.RIR.Value > 0) || p.RIR.Origin == CorrectedOrigin {
		return p, false
	}
	p.RIR.Value *= f.List[i].Value
	p.RIR.RelU = math.Sqrt(f.Covariance[i][i] + square(f.ReferenceU))
	p.RIR.Origin = CorrectedOrigin
	return p, true
}

// CorrectedOrigin is that of a reference intensity ratio that a factor has corrected.
const CorrectedOrigin = "weighed mixtures"

// A Trial is a mixture whose composition follows from the others.
type Trial struct {
	Percent, Before, After []float64 // wt% as weighed (their sum being 100), without factors and with those of the other mixtures; parallel to the phases of the fit
}

// LeaveOneOut computes each mixture with the factors of all others; nil for one that the others say nothing of.
func LeaveOneOut(mixtures []Weighed) []*Trial {
	out := make([]*Trial, len(mixtures))
	for i, m := range mixtures {
		others := slices.Concat(mixtures[:i:i], mixtures[i+1:])
		f, err := FitFactors(others, "")
		if err != nil {
			continue
		}
		out[i] = m.trial(f)
	}
	return out
}

// trial computes a mixture with factors, nil when one of its phases has none.
func (m Weighed) trial(f Factors) *Trial {
	amounts := m.Scan().observe(m.Fit.Setup.Phases).amounts
	before, after := make([]float64, len(amounts)), make([]float64, len(amounts))
	for k, p := range m.Fit.Setup.Phases {
		if !(m.Percent[k] > 0) {
			continue
		}
		i := f.index(p.ID)
		if i < 0 {
			return nil
		}
		before[k], after[k] = amounts[k], amounts[k]/f.List[i].Value
	}
	var t Trial
	var err [3]error
	t.Percent, err[0] = shares(m.Percent)
	t.Before, err[1] = shares(before)
	t.After, err[2] = shares(after)
	if errors.Join(err[:]...) != nil {
		return nil
	}
	return &t
}
