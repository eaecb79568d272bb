package quantify

import (
	"math"

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
// as they do for the scale, by the inverse of their variance.
type tally struct{ ratio, free, counting float64 }

// scatters judges every phase of a fit. The misfit of the fit is common to all phases; a phase whose texture is of
// another kind, or whose grains are few, scatters more than the rest, and its own lines tell by how much: the variance
// is the mean of what all lines and what its own lines show, weighted with their number.
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
	}
	return out
}

// tallyOf compares the lines of phase number p with the fit.
func tallyOf(f *pattern.Fit, p int) tally {
	var sum, squares, seen, counting, lines float64
	for _, l := range f.Lines(p) {
		if !l.Own() || !(l.Fitted > leastLine*l.ObservedU) {
			continue
		}
		u := l.ObservedU / l.Fitted
		misfit := f.OwnMisfit(l)
		w := 1 / (u*u + misfit*misfit)
		d := l.Observed/l.Fitted - 1
		sum += w
		squares += w * w
		seen += w * w * d * d
		counting += w * w * u * u
		lines++
	}
	unknowns := ownUnknowns
	if f.Setup.Poles != nil {
		unknowns += len(f.Setup.Poles[p])
	}
	share := 1 - float64(unknowns)/lines // of the deviations that the fit has not taken up
	if !(share > 0) {
		return tally{0, 0, 1}
	}
	return tally{seen / sum / share, sum * sum / squares * share, counting / sum}
}

// coverage95 returns how many standard uncertainties a 95 % interval extends on each side: Student's quantile.
func coverage95(freedom float64) float64 {
	if !(freedom < 1e4) {
		return z95
	}
	return distuv.StudentsT{Sigma: 1, Nu: math.Max(1, freedom)}.Quantile(0.975)
}
