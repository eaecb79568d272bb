package quantify

import (
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd/pattern"
)

// A LineCheck is what the fitted peaks of a phase say of its fraction without the whole-pattern fit: by its strongest
// free line alone, and by all its free lines. Fractions are of the specimen's crystalline part. A phase without a free
// line has Lines 0 and takes part with its amount from the whole pattern.
type LineCheck struct {
	Lines    int     // number of free lines
	TwoTheta float64 // of the strongest, degrees
	Single   Value   // wt% by that line; unknown without one
	Multi    Value   // wt% by all of them
	// Sigmas is the difference of Multi from the whole-pattern fraction over the standard uncertainty of both, without that
	// of the reference intensity ratios, which they share.
	Sigmas float64
	// SingleSigmas is the same of Single; NaN without a free line.
	SingleSigmas float64
}

const (
	freePeak  = 0.9  // share of a phase in a peak from which its area is that of the phase
	peakReach = 0.6  // of its FWHM: lines that near make up one peak
	peakFloor = 0.02 // degrees; and at least
	peakWidth = 2.5  // times the width of a line: broader peaks are humps
)

// lineAmount is the logarithm of a scale S as one free line gives it.
type lineAmount struct{ log, u, expected, twoTheta float64 }

// CheckLines compares the whole-pattern answer with the areas of single fitted peaks. It returns one entry for each phase
// of the fit, and nil when fractions are withheld or no phase has a free line. Several lines are joined by their weighted
// mean with the scatter that the lines show (PRACTICE.md 1.7: weighted mean over free lines, scatter SD/√n); displacement
// parameters are those of the fit, texture is left to the scatter.
func CheckLines(in Input, a Answer, found []peaks.Peak) []LineCheck {
	members := in.phasesOf(Specimen)
	if len(a.Withheld) > 0 || len(members) < 2 || a.Covariance == nil {
		return nil
	}
	in.More = nil // peaks are those of one scan
	whole := newProblem(in)
	lines := freeLines(in, found)
	single, multi, free := in.lineAmounts(members, lines)
	if free == 0 {
		return nil
	}
	amounts := whole.amounts
	if a.tau != nil { // absorption is no matter of single lines
		amounts = divided(divided(amounts, a.tau), divided(ones(len(amounts)), whole.tau))
	}
	amounts = pick(amounts, members)
	one, all := in.fromLines(members, amounts, single), in.fromLines(members, amounts, multi)
	if one == nil || all == nil {
		return nil
	}
	cov := whole.withoutRatios(a, members)
	out := make([]LineCheck, len(in.Roles))
	for i, p := range members {
		c := LineCheck{Lines: len(lines[p]), Single: unknown, Multi: all[i], SingleSigmas: math.NaN()}
		whole := a.Fractions[p].Weight.Percent
		c.Sigmas = all[i].apart(whole, cov[i][i])
		if c.Lines > 0 {
			c.TwoTheta, c.Single, c.SingleSigmas = single[i].twoTheta, one[i], one[i].apart(whole, cov[i][i])
		}
		out[p] = c
	}
	return out
}

// apart returns the difference of a value from another of a variance, over the standard uncertainty of both; 0 where neither has any.
func (v Value) apart(other, variance float64) float64 {
	if u := math.Hypot((v.Hi-v.Lo)/2/z95, math.Sqrt(math.Max(0, variance))); u > 0 {
		return (v.Percent - other) / u
	}
	return 0
}

// lineAmounts returns the scale of each member by its strongest free line and by all of them, that of the fit where it has
// none, and how many have some.
func (in Input) lineAmounts(members []int, lines [][]lineAmount) (single, multi []lineAmount, free int) {
	common := commonScatter(lines)
	all := scatters(in.Fit)
	for _, p := range members {
		own := lineAmount{log: math.Log(in.Fit.Scales[p])}
		if c := in.Fit.ScaleCov[p][p]; c > 0 {
			own.u = math.Sqrt(c*all[p].inflation) / in.Fit.Scales[p]
		}
		one, joined := own, own
		if len(lines[p]) > 0 {
			one = strongestLine(lines[p])
			one.u *= math.Sqrt(common)
			joined, _, _ = meanLine(lines[p], common)
			free++
		}
		single, multi = append(single, one), append(multi, joined)
	}
	return single, multi, free
}

// withoutRatios returns the covariance of the fractions without what the reference intensity ratios leave open.
func (p *problem) withoutRatios(a Answer, members []int) [][]float64 {
	w := make([]float64, len(members))
	for i, k := range members {
		w[i] = a.Fractions[k].Weight.Percent
	}
	return shareCovariance(w, budget{p.measured(members)}.total())
}

// freeLines returns for each phase of the fit what its free peaks say of its scale.
func freeLines(in Input, found []peaks.Peak) [][]lineAmount {
	type share struct {
		expected, fitted float64
		mixed            bool // other phases lie under a line
	}
	out := make([][]lineAmount, len(in.Roles))
	under := make([][]share, len(found))
	for k := range under {
		under[k] = make([]share, len(in.Roles))
	}
	for p := range in.Roles {
		thermal, _ := in.Fit.Get(pattern.Thermal, p) // what the fit changes with the angle is no amount
		for _, l := range in.Fit.Lines(p) {
			if k := peakOf(l, found); k >= 0 {
				under[k][p].expected += l.Expected * math.Exp(-thermal.Value/(2*l.Line.D*l.Line.D))
				under[k][p].fitted += l.Fitted
				under[k][p].mixed = under[k][p].mixed || !(l.Clear > freePeak) && l.Fitted > (1-freePeak)*found[k].Area
			}
		}
	}
	for k, q := range found {
		var all float64
		for _, s := range under[k] {
			all += s.fitted
		}
		for p, s := range under[k] {
			own := q.Area - (all - s.fitted)
			if q.Kind == peaks.KAlpha && !s.mixed && !crowded(found, k) && s.fitted > freePeak*all && s.expected > 0 && own > 3*q.AreaU {
				out[p] = append(out[p], lineAmount{math.Log(in.Fit.Scales[p] * own / s.expected), q.AreaU / own, s.expected, q.TwoTheta})
			}
		}
	}
	return out
}

// crowded reports whether another peak of more than a tenth of its area lies nearer to a peak than the mean of their widths: areas of
// peaks that overlap so far go at each other's cost, and one broad line may have been fitted as two.
func crowded(found []peaks.Peak, k int) bool {
	for i, q := range found {
		if i != k && q.Area > (1-freePeak)*found[k].Area && math.Abs(q.TwoTheta-found[k].TwoTheta) < (q.FWHM+found[k].FWHM)/2 {
			return true
		}
	}
	return false
}

// peakOf returns the peak that a line is part of: the nearest one, when it is near and about as wide; -1 for none.
func peakOf(l pattern.LineFit, found []peaks.Peak) int {
	best, distance := -1, math.Inf(1)
	for k, q := range found {
		d := math.Abs(l.TwoTheta - q.TwoTheta)
		if d < distance && d < math.Max(peakReach*q.FWHM, peakFloor) && q.FWHM < peakWidth*l.FWHM {
			best, distance = k, d
		}
	}
	return best
}

func strongestLine(lines []lineAmount) lineAmount {
	best := lines[0]
	for _, l := range lines[1:] {
		if l.expected > best.expected {
			best = l
		}
	}
	best.u = math.Hypot(best.u, leastScatter)
	return best
}

// huberSigmas is the deviation, in standard deviations, beyond which a line counts for less: a peak that was fitted badly
// must not decide. Source: Huber, Ann. Math. Stat. 35 (1964) 73 (from memory; 1.5 keeps 96 % of the efficiency).
const huberSigmas = 1.5

// madSigma turns a median absolute deviation into a standard deviation, for a Gaussian distribution.
const madSigma = 1.4826

// meanLine joins lines by the robust weighted mean of their logarithms, and returns how much more they scatter than they
// should: the sum of the squares of their deviations and its degrees of freedom. A phase with few lines has no scatter of
// its own; common is that of all lines.
func meanLine(lines []lineAmount, common float64) (mean lineAmount, squares, freedom float64) {
	root := make([]float64, len(lines)) // of the weight
	logs := make([]float64, len(lines))
	for i, l := range lines {
		root[i], logs[i] = 1/math.Hypot(l.u, leastScatter), l.log
	}
	mean.log = median(logs)
	deviations := make([]float64, len(lines))
	var weight float64
	for range 20 {
		for i, l := range lines {
			deviations[i] = math.Abs(l.log-mean.log) * root[i]
		}
		limit := huberSigmas * math.Max(1, madSigma*median(deviations))
		var sum float64
		weight = 0
		for i, l := range lines {
			w := root[i] * root[i] * math.Min(1, limit/math.Max(deviations[i], limit))
			sum += w * l.log
			weight += w
		}
		mean.log = sum / weight
	}
	for i, l := range lines {
		squares += math.Pow((l.log-mean.log)*root[i], 2)
	}
	freedom = float64(len(lines) - 1)
	mean.u = math.Sqrt(math.Max(1, (pooledLines*common+squares)/(pooledLines+freedom)) / weight)
	return mean, squares, freedom
}

func median(v []float64) float64 {
	sorted := slices.Sorted(slices.Values(v))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// commonScatter returns the mean square of the deviations of all lines from the means of their phases, over what it should
// be, at least 1.
func commonScatter(lines [][]lineAmount) float64 {
	var squares, freedom float64
	for _, own := range lines {
		if len(own) > 0 {
			_, s, n := meanLine(own, 1)
			squares += s
			freedom += n
		}
	}
	if freedom == 0 {
		return 1
	}
	return math.Max(1, squares/freedom)
}

// fromLines turns scales from lines into fractions with their 95 % intervals, without the uncertainty of the ratios.
func (in Input) fromLines(members []int, amounts []float64, lines []lineAmount) []Value {
	parts, cov := make([]float64, len(members)), zeros(len(members))
	for i, p := range members {
		parts[i] = amounts[i] * math.Exp(lines[i].log) / in.Fit.Scales[p]
		cov[i][i] = lines[i].u * lines[i].u
	}
	w, err := shares(parts)
	if err != nil {
		return nil
	}
	c := shareCovariance(w, cov)
	out := make([]Value, len(w))
	for i := range w {
		out[i] = interval(w[i], math.Sqrt(math.Max(0, c[i][i])), math.Inf(1))
	}
	return out
}
