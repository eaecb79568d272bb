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
	pooledLines  = 4.0 // lines of its own that the scatter common to all phases is worth (common practice)
	ownClear     = 0.6 // share of a line's own phase from which its intensity can be told
	leastLine    = 3.0 // significance of a line that has a say
	pointsInLine = 2.0 // points that make up a line one point wide: between 1.5 (Gauss) and π (Lorentz)
	ownUnknowns  = 2   // scale and displacement parameter, which the lines of a phase are fitted with
)

// scatters judges every phase of a fit. The misfit of the fit is common to all phases; a phase whose texture is of
// another kind, or whose grains are few, scatters more than the rest, and its own lines tell by how much: the variance
// is the mean of both, weighted with the number of lines.
func scatters(f *pattern.Fit) []scatter {
	out := make([]scatter, len(f.Scales))
	var total float64
	for p := range out {
		out[p] = scatterOf(f, p)
		total += out[p].freedom
	}
	for p := range out {
		own := out[p].freedom
		out[p].freedom = math.Max(1, own+math.Min(pooledLines, total-own))
	}
	return out
}

// scatterOf compares the lines of phase number p with the fit; its freedom is that of its own lines.
func scatterOf(f *pattern.Fit, p int) scatter {
	x := f.Setup.TwoTheta
	step := (x[len(x)-1] - x[0]) / float64(len(x)-1)
	var seen, counting, lines float64
	for _, l := range f.Lines(p) {
		if !l.Covered || l.Clear < ownClear || !(l.Fitted > leastLine*l.ObservedU) {
			continue
		}
		u := l.ObservedU / l.Fitted
		misfit := f.Kappa / math.Sqrt(math.Max(1, pointsInLine*l.FWHM/step))
		v := u*u + misfit*misfit
		d := l.Observed/l.Fitted - 1
		seen += d * d / v
		counting += u * u / v
		lines++
	}
	if lines == 0 {
		return scatter{1, 1, 0}
	}
	unknowns := ownUnknowns
	if f.Setup.Poles != nil {
		unknowns += len(f.Setup.Poles[p])
	}
	free := math.Max(0, lines-float64(unknowns))
	return scatter{math.Max(1, (pooledLines+seen)/(pooledLines+free)), counting / lines, free}
}

// coverage95 returns how many standard uncertainties a 95 % interval extends on each side: Student's quantile.
func coverage95(freedom float64) float64 {
	if !(freedom < 1e4) {
		return z95
	}
	return distuv.StudentsT{Sigma: 1, Nu: math.Max(1, freedom)}.Quantile(0.975)
}
