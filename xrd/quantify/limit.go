package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// Watched is a phase whose detection limit is asked for.
type Watched struct {
	Phase refdata.Phase
	Grain float64 // diameter of its grains in a powder, µm; 0 where not known
}

// DetectionLimits returns for each watched phase the least wt% that would have been accepted at the threshold in any of the
// scans taken together, beside the phases of the specimen; NaN when its RIR is not known, no scan has a line of it or
// nothing of the specimen's is there. It is what Fraction.Limit tells of the phases of the fit.
func DetectionLimits(in Input, watched []Watched) []float64 {
	p := newProblem(in)
	mean := p.meanAbsorption(p.amounts)
	out := make([]float64, len(watched))
	for i, w := range watched {
		tau := grainFactor(w.Phase, w.Grain, mean)
		if mu := w.Phase.MuLinear(); in.Section != nil && in.Grain == nil && mu > 0 && mean > 0 {
			tau = min(1, mean/mu) // a large region of it shows the least of itself
		}
		out[i] = p.limit(w.Phase, tau, -1)
	}
	return out
}

// limit returns the least amount of a phase that would have been accepted: (threshold + 1.645) σ of its amount at 0, in wt%
// beside the others. tau is its Brindley factor, own its number among the phases of the input, -1 for none. Source: Currie,
// Anal. Chem. 40 (1968) 586 (from memory), with the threshold in force.
func (p *problem) limit(phase refdata.Phase, tau float64, own int) float64 {
	var total float64
	for _, k := range p.phasesOf(Specimen) {
		total += p.amounts[k]
	}
	u := math.Inf(1)
	for i, scan := range p.scans {
		u = together(u, scan.zeroU(phase)/p.factors[i])
	}
	limit := (p.Threshold + overlooked) * u / phase.RIR.Value / tau
	if !(phase.RIR.Value > 0) || !(total > 0) || math.IsInf(limit, 0) || p.incommensurate {
		return math.NaN()
	}
	others := total
	if own >= 0 && p.Roles[own] == Specimen {
		others -= p.amounts[own]
	}
	return percentOf(limit, others, total)
}

// overlooked is the standard uncertainties by which a phase must exceed the threshold to be overlooked in 5 % of the scans.
const overlooked = 1.645

// together returns the standard uncertainty of the weighted mean of two values; an infinite one says nothing.
func together(a, b float64) float64 {
	switch {
	case math.IsInf(a, 0):
		return b
	case math.IsInf(b, 0):
		return a
	}
	return a * b / math.Hypot(a, b)
}

// percentOf returns the share of an amount beside others; where nothing else is there, beside the total.
func percentOf(amount, others, total float64) float64 {
	if !(others > 0.01*total) {
		others = total
	}
	return 100 * amount / (amount + others)
}

// zeroU returns the standard uncertainty that the scale of a phase would have were it 0: that of the fit where it is, else
// from its pattern, as fitted or that of the reference, with its own intensity taken out of the variance.
func (s Scan) zeroU(phase refdata.Phase) float64 {
	f := s.Fit
	k := indexOf(f, phase.ID)
	switch {
	case k < 0:
		set := f.Setup
		set.Start.Values = f.Values()
		displacement := set.Start.Values[pattern.Key{Kind: pattern.Displacement}]
		return scaleUAtZero(f, pattern.Calculate(set, phase, 1, displacement, 0), make([]float64, len(f.Fitted)), 1)
	case f.Scales[k] > 0:
		return scaleUAtZero(f, f.Curves[k], f.Curves[k], f.Scales[k])
	}
	return f.ZeroU[k]
}

// scaleUAtZero returns the standard uncertainty of a scale were it 0, from the profile (scale × column) and the own
// intensity that is then taken out of the variance.
func scaleUAtZero(f *pattern.Fit, curve, own []float64, scale float64) float64 {
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
