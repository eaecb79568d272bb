package quantify

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd/pattern"
)

// scatter tells how far the lines of a phase lie from its fitted pattern, against what the fit allows for.
type scatter struct {
	inflation float64 // of the variance of the phase's scale, at least 1
	counting  float64 // share of the allowed variance of its lines that is counting, 0 to 1
	freedom   float64 // degrees of freedom on which the other share rests
}

const (
	pooledLines = 4.0 // lines of its own that the scatter common to all phases is worth (common practice)
	leastLine   = 3.0 // significance of a line that has a say
	ownUnknowns = 2   // scale and displacement parameter, which the lines of a phase are fitted with
)

// A tally is what the lines of one phase say: the mean of their squared deviations over what the fit allows, on how many
// lines it rests, how many of these are free to say so, and what share of the allowed variance is counting. Lines count
// as they do for the scale, by the inverse of their variance. What lines are to be expected to scatter by is known even where
// counting hides it: the variance of the scale with it, over what the fit allows, on so many degrees of freedom.
type tally struct{ ratio, free, counting, hidden, hiddenFree float64 }

// scatters judges every phase of a fit. The misfit of the fit is common to all phases; a phase whose texture is of
// another kind, or whose grains are few, scatters more than the rest, and its own lines tell by how much: the variance
// is the mean of what all lines and what its own lines show, weighted with their number, or what counting may hide if that is more.
func scatters(f *pattern.Fit) []scatter {
	tallies := make([]tally, len(f.Scales))
	var seen, free float64
	for p := range tallies {
		tallies[p] = tallyOf(f, p)
		seen += tallies[p].ratio * tallies[p].free
		free += tallies[p].free
	}
	common := 1.0
	if free > 0 {
		common = math.Max(1, seen/free)
	}
	out := make([]scatter, len(tallies))
	for p, t := range tallies {
		out[p] = scatter{
			inflation: math.Max(1, (pooledLines*common+t.ratio*t.free)/(pooledLines+t.free)),
			counting:  t.counting,
			freedom:   math.Max(1, t.free+math.Min(pooledLines, free-t.free)),
		}
		if t.hidden > out[p].inflation {
			out[p].inflation, out[p].freedom = t.hidden, t.hiddenFree
		}
	}
	return out
}

// tallyOf compares the lines of phase number p with the fit.
func tallyOf(f *pattern.Fit, p int) tally {
	var sum, squares, seen, counting float64
	var lines []deviation
	for _, l := range f.Lines(p) {
		if !l.Own() || !(l.Fitted > leastLine*l.ObservedU) {
			continue
		}
		u := l.ObservedU / l.Fitted
		misfit := f.OwnMisfit(l)
		w := 1 / (u*u + misfit*misfit)
		d := deviation{square(l.Observed/l.Fitted - 1), u * u}
		sum += w
		squares += w * w
		seen += w * w * d.square
		counting += w * w * d.counting
		lines = append(lines, d)
	}
	if !(sum > 0) {
		return tally{counting: 1}
	}
	unknowns := ownUnknowns
	if f.Setup.Poles != nil {
		unknowns += len(f.Setup.Poles[p])
	}
	share := math.Max(0, 1-float64(unknowns)/float64(len(lines))) // of the deviations that the fit has not taken up
	tau2, hiddenFree := hiddenScatter(lines, share)
	t := tally{counting: 1, hidden: (counting + tau2*squares) / sum, hiddenFree: hiddenFree}
	if share > 0 {
		t.ratio, t.free, t.counting = seen/sum/share, sum*sum/squares*share, counting/sum
	}
	return t
}

// A deviation is that of the area of a line from the fitted one, relative to it: its square, and the variance by counting.
type deviation struct{ square, counting float64 }

// The sum over ln τ goes down from a multiple of shownScatter by factors of e.
const (
	scatterSteps = 100
	scatterReach = 8.0
	scatterFolds = 8.0

	linesTogether = 8 // share one logarithm; variances above 1e-9 do not make their product vanish
)

// hiddenScatter returns the variance τ² by which the lines of a phase are to be expected to scatter, relative to their areas, and
// the degrees of freedom of Student's distribution that goes with it. See the doc of the package; share is ν/n there.
func hiddenScatter(lines []deviation, share float64) (tau2, freedom float64) {
	var logs, squares [scatterSteps]float64
	most := math.Inf(-1)
	for k := range logs {
		tau := scatterReach * shownScatter * math.Exp(-scatterFolds*(float64(k)+0.5)/scatterSteps)
		squares[k] = tau * tau
		logs[k] = math.Log(tau) - tau*tau/(2*shownScatter*shownScatter) // dτ = τ d ln τ
		for few := range slices.Chunk(lines, linesTogether) {
			product, chi2 := 1.0, 0.0
			for _, l := range few {
				v := l.counting + squares[k]
				product *= v
				chi2 += l.square / v
			}
			logs[k] -= share / 2 * (math.Log(product) + chi2)
		}
		most = math.Max(most, logs[k])
	}
	var sum, mean, second float64
	for k, l := range logs {
		p := math.Exp(l - most)
		sum += p
		mean += p * squares[k]
		second += p * squares[k] * squares[k]
	}
	mean /= sum
	freedom = 4 + 2*mean*mean/(second/sum-mean*mean)
	return mean * (freedom - 2) / freedom, freedom
}

// coverage95 returns how many standard uncertainties a 95 % interval extends on each side: Student's quantile.
func coverage95(freedom float64) float64 {
	if !(freedom < 1e4) {
		return z95
	}
	return distuv.StudentsT{Sigma: 1, Nu: math.Max(1, freedom)}.Quantile(0.975)
}
