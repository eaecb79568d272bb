package xrd

import (
	"math"
	"slices"
)

// Rebinned returns a scan in which every k neighbours are one point: at their mean angle, with the sum of their intensities, so that
// counts stay counts, and with the uncertainty of that. Points are joined within runs only; fewer than k at the end of one are
// left out. A k below 2, or one that leaves too few points, changes nothing.
func (s Scan) Rebinned(k int) Scan {
	if k < 2 || s.Len()/k < MinPoints {
		return s
	}
	out := Scan{About: s.About}
	for _, r := range Runs(s.TwoTheta) {
		for i := r.First; i+k <= r.End; i += k {
			var angle, sum, variance float64
			for j := i; j < i+k; j++ {
				angle, sum = angle+s.TwoTheta[j]/float64(k), sum+s.Intensity[j]
				if s.Sigma != nil {
					variance += s.Sigma[j] * s.Sigma[j]
				}
			}
			out.TwoTheta, out.Intensity = append(out.TwoTheta, angle), append(out.Intensity, sum)
			if s.Sigma != nil {
				out.Sigma = append(out.Sigma, math.Sqrt(variance))
			}
		}
	}
	if out.Len() < MinPoints || !slices.ContainsFunc(out.Intensity, func(y float64) bool { return y != 0 }) {
		return s
	}
	return out
}
