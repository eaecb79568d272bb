package identify

import (
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// firstLook returns the background before anything is known: the square roots of the counts, averaged over a line's
// width, are clipped to the mean of their neighbours at growing distance (Ryan et al., Nucl. Instrum. Methods B 34 (1988)
// 396–402, from memory). Steep scatter and haloes stay below it, lines do not. It is never above the one given where that
// is meant to hold, because the one given may know of overlapping lines.
func firstLook(set pattern.Setup) []float64 {
	x := set.TwoTheta
	fwhm := set.Instrument.FWHM((x[0] + x[len(x)-1]) / 2)
	out := make([]float64, 0, len(x))
	for _, run := range xrd.Runs(x) {
		out = append(out, clipped(x[run.First:run.End], set.Intensity[run.First:run.End], fwhm)...)
	}
	return out
}

// clipped is firstLook of one run of points, for lines of a width, degrees.
func clipped(x, y []float64, fwhm float64) []float64 {
	n := len(x)
	if n == 1 {
		return slices.Clone(y)
	}
	step := (x[n-1] - x[0]) / float64(n-1)
	v := rootMean(y, max(1, int(math.Min(fwhm/step/2, float64(n)))))
	reach := max(2, int(math.Min(policy.Search.ClipWidths*fwhm/step, float64(n/2)))) // no pair of neighbours is farther apart
	next := slices.Clone(v)
	for w := reach; w >= 1; w-- { // falling distances leave less noise behind than growing ones
		for i := w; i < n-w; i++ {
			next[i] = math.Min(v[i], (v[i-w]+v[i+w])/2)
		}
		copy(v, next)
	}
	for i, r := range v {
		v[i] = r * math.Abs(r)
	}
	return v
}

// rootMean returns the signed square roots of the means over 2h+1 points.
func rootMean(y []float64, h int) []float64 {
	sum := make([]float64, len(y)+1)
	for i, v := range y {
		sum[i+1] = sum[i] + v
	}
	out := make([]float64, len(y))
	for i := range y {
		lo, hi := max(0, i-h), min(len(y), i+h+1)
		m := (sum[hi] - sum[lo]) / float64(hi-lo)
		out[i] = math.Copysign(math.Sqrt(math.Abs(m)), m)
	}
	return out
}

// firstSigma returns the standard uncertainty of each point from the intensity about it, where intensities are counts.
func firstSigma(set pattern.Setup) []float64 {
	if !(set.Gain > 0) {
		return set.Sigma
	}
	root := make([]float64, 0, len(set.Intensity))
	for _, run := range xrd.Runs(set.TwoTheta) {
		root = append(root, rootMean(set.Intensity[run.First:run.End], 2)...)
	}
	out := make([]float64, len(root))
	for i, r := range root {
		out[i] = math.Sqrt(set.Gain*math.Max(r*r, set.Gain/2) + set.Floor)
	}
	return out
}
