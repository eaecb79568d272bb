package quantify

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// Watched is a phase whose detection limit is asked for.
type Watched struct {
	Phase refdata.Phase // that is asked about
	Grain float64       // diameter of its grains in a powder, µm; 0 where not known
}

// DetectionLimits returns for each watched phase the least wt% that would have been accepted at the threshold in any of the
// scans taken together, beside the phases of the specimen; NaN when its RIR is not known, no scan has a line of it or
// nothing of the specimen's is there. It is what Fraction.Limit tells of the phases of the fit.
func DetectionLimits(in Input, watched []Watched) []float64 {
	p := newProblem(in)
	mean := p.meanAbsorption(p.amounts)
	out := make([]float64, len(watched))
	for i, w := range watched {
		tau := GrainFactor(w.Phase, w.Grain, mean)
		if mu := w.Phase.MuLinear(); in.Section != nil && !in.Section.Perhaps && in.Grain == nil && mu > 0 && mean > 0 {
			tau = min(1, mean/mu) // a large region of it shows the least of itself
		}
		out[i] = p.limit(w.Phase, tau, -1)
	}
	return out
}

// limit returns the least amount of a phase that the search for phases names in 95 % of such scans, in wt% beside the others. tau is
// its Brindley factor, own its number among the phases of the input, -1 for none.
func (p *problem) limit(phase refdata.Phase, tau float64, own int) float64 {
	var total float64
	for _, k := range p.phasesOf(Specimen) {
		total += p.amounts[k]
	}
	if !(phase.RIR.Value > 0) || !(total > 0) || p.incommensurate {
		return math.NaN()
	}
	var scale float64
	if own >= 0 {
		scale = p.leastScale[own]
	} else {
		scale = p.least(phase)
	}
	limit := scale / phase.RIR.Value / tau
	if math.IsInf(limit, 0) {
		return math.NaN()
	}
	others := total
	if own >= 0 && p.Roles[own] == Specimen {
		others -= p.amounts[own]
	}
	return percentOf(limit, others, total)
}

// least returns the scale of the detection limit in the first scan; infinite where no scan tells of the phase. Each thing that the
// search asks for is one that an amount A has in 95 % of the scans when A = (what is asked + 1.645) u(A), u(A) being the standard
// uncertainty that A would have with its own counts (Currie, Anal. Chem. 40 (1968) 586, from memory). Asked are the threshold of the
// whole pattern, and lines of the phase's own: one that alone reaches the threshold or two that are seen; where all lines lie under
// those of other phases, one of twice the threshold or two of the threshold.
func (p *problem) least(phase refdata.Phase) float64 {
	shapes := make([]faint, len(p.scans))
	for i, s := range p.scans {
		shapes[i] = s.faint(phase)
	}
	return p.leastOf(shapes)
}

// leastOf returns the scale of the detection limit for how each scan shows a phase.
func (p *problem) leastOf(shapes []faint) float64 {
	at := func(scale float64) float64 {
		whole, own, shared := math.Inf(1), [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(1), math.Inf(1)}
		for i, s := range shapes {
			u, o, h := s.u(scale * p.factors[i])
			whole = together(whole, u/p.factors[i])
			for k := range own {
				own[k], shared[k] = together(own[k], o[k]/p.factors[i]), together(shared[k], h[k]/p.factors[i])
			}
		}
		t := p.Threshold
		lines := min((t+overlooked)*own[0], (pattern.SeenSigma+overlooked)*own[1], (2*t+overlooked)*shared[0], (t+overlooked)*shared[1])
		return max((t+overlooked)*whole, lines)
	}
	scale := at(0)
	for range leastRounds { // u grows less than as the root of the scale, so that this closes in
		next := at(scale)
		if math.IsInf(next, 0) || math.Abs(next-scale) < 1e-6*scale {
			break
		}
		scale = next
	}
	return scale
}

const leastRounds = 50

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

// faint is a phase that is just seen in a scan.
type faint struct {
	unit     []float64 // its profile for a scale of 1
	others   []float64 // what other phases put there
	variance []float64 // of the points without it
	gain     float64   // variance of an intensity over the intensity
	beside   float64   // factor of its uncertainties because background and other phases are fitted along; 1 where that is not known
	lines    [][2]int  // first point and the one after the last of each of its separate lines
}

// faint works out how a phase would be seen: its profile, and the variance without it.
func (s Scan) faint(phase refdata.Phase) faint {
	f := s.Fit
	k := indexOf(f, phase.ID)
	set := f.Setup
	set.Start.Values = f.Values()
	if k >= 0 {
		phase = f.Setup.Phases[k]
	}
	n := len(f.Fitted)
	out := faint{unit: pattern.Calculate(set, phase, 1, set.Start.Values[pattern.Key{Kind: pattern.Displacement}], 0), others: make([]float64, n),
		variance: make([]float64, n), gain: f.Setup.Gain, beside: 1}
	for i := range out.unit {
		var own float64
		if k >= 0 {
			own = f.Curves[k][i]
		}
		out.others[i] = math.Max(0, f.Fitted[i]-f.Background[i]-own)
		d := f.Kappa * out.others[i]
		v := f.Noise[i] + d*d
		if g := out.gain; g > 0 {
			v = math.Max(v-g*own, 0.5*g*g)
		}
		out.variance[i] = v
	}
	out.lines = separate(out.unit)
	if k >= 0 && f.Scales[k] == 0 {
		if alone, _, _ := out.u(0); alone > 0 && !math.IsInf(alone, 0) {
			out.beside = math.Max(1, f.ZeroU[k]/alone)
		}
	}
	return out
}

// separate returns the stretches of a profile from one valley to the next that is half as high as the tops beside it, or lower.
func separate(y []float64) [][2]int {
	var out [][2]int
	first, top, valley := 0, 0, 0
	for i := range y {
		switch {
		case y[valley] < y[top]/2 && y[i] > 2*y[valley] && y[i] > leastTop*y[top]:
			out = append(out, [2]int{first, valley})
			first, top, valley = valley, i, i
		case y[i] >= y[top]:
			top, valley = i, i
		case y[i] < y[valley]:
			valley = i
		}
	}
	if len(y) > 0 && y[top] > 0 {
		out = append(out, [2]int{first, len(y)})
	}
	return out
}

// leastTop is the height over that of a line from which a rise after it is another one.
const leastTop = 1e-3

// u returns the standard uncertainty that a scale would have from the whole pattern, and from each of the two lines that tell most
// of it: of those that stand clear of other phases, and of all. Infinite where there is none.
func (s faint) u(scale float64) (whole float64, own, shared [2]float64) {
	var all float64
	var ownBest, best [2]float64 // information
	for _, l := range s.lines {
		var info, mine, theirs float64
		for i := l[0]; i < l[1]; i++ {
			c := s.unit[i]
			if c == 0 {
				continue
			}
			x := c * c / (s.variance[i] + s.gain*scale*math.Max(0, c))
			info += x
			mine += c * scale * c
			theirs += s.others[i] * c
		}
		all += info
		best = better(best, info)
		if mine >= pattern.OwnShare*(mine+theirs) {
			ownBest = better(ownBest, info)
		}
	}
	for k := range own {
		own[k], shared[k] = s.beside/math.Sqrt(ownBest[k]), s.beside/math.Sqrt(best[k])
	}
	return s.beside / math.Sqrt(all), own, shared
}

// better puts a value among the two largest.
func better(two [2]float64, v float64) [2]float64 {
	switch {
	case v > two[0]:
		return [2]float64{v, two[0]}
	case v > two[1]:
		two[1] = v
	}
	return two
}
