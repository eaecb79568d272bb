package identify

import (
	"math"
	"slices"
	"sort"

	"phasetally/peaks"
	"phasetally/xrd/pattern"
)

// excused returns the places of the peaks where what the phases lack tells of no phase that is missing: the peak is a line that texture
// raises most, whose height tells how the grains lie rather than how much there is, or it lies on the foot of a far stronger line and is
// lower than that foot, which profile functions describe no better.
func excused(fit *pattern.Fit, found []peaks.Peak) (places []int) {
	if fit == nil || len(fit.Fitted) != len(fit.Setup.Intensity) {
		return nil
	}
	var lines []pattern.LineFit
	for p := range fit.Setup.Phases {
		lines = append(lines, raised(fit, p)...)
	}
	for i, p := range found {
		if isFoot(p, found) && belowFoot(fit, p) || slices.ContainsFunc(lines, func(l pattern.LineFit) bool {
			return math.Abs(p.TwoTheta-l.TwoTheta) < p.FWHM/2 && l.Fitted >= policy.Coverage.OrientedLeast*p.Area
		}) {
			places = append(places, i)
		}
	}
	return places
}

// raised returns the lines of phase p that fitted texture raises most, if other lines show that the phase is there.
func raised(fit *pattern.Fit, p int) []pattern.LineFit {
	if !slices.ContainsFunc(fit.Parameters, func(q pattern.Parameter) bool {
		return q.Kind == pattern.TextureLogR && q.Phase == p && q.Free && math.Abs(q.Value) > policy.Coverage.Oriented*q.U
	}) {
		return nil
	}
	lines := fit.Lines(p)
	most := 1.0
	for _, l := range lines {
		most = math.Max(most, l.Fitted/l.Expected)
	}
	others := 0
	lines = slices.DeleteFunc(lines, func(l pattern.LineFit) bool {
		if l.Fitted/l.Expected > 1 && l.Fitted/l.Expected >= policy.Coverage.Raised*most {
			return false
		}
		if l.Observed > pattern.SeenSigma*math.Hypot(l.ObservedU, l.MisfitU) {
			others++
		}
		return true
	})
	if others < policy.Coverage.OtherLines {
		return nil
	}
	return lines
}

// isFoot reports whether a peak is as broad, weak and near to a far stronger one as the misfit of a foot is.
func isFoot(p peaks.Peak, found []peaks.Peak) bool {
	for _, q := range found {
		if q.Area > policy.Coverage.FootArea*p.Area && p.FWHM > policy.Coverage.FootWidth*q.FWHM && math.Abs(p.TwoTheta-q.TwoTheta) < policy.Coverage.FootReach*p.FWHM {
			return true
		}
	}
	return false
}

// belowFoot reports whether a fit leaves less at a peak than its phases put there.
func belowFoot(fit *pattern.Fit, p peaks.Peak) bool {
	x := fit.Setup.TwoTheta
	var left, has float64
	for k := sort.SearchFloat64s(x, p.TwoTheta-p.FWHM/2); k < len(x) && x[k] <= p.TwoTheta+p.FWHM/2; k++ {
		left += fit.Setup.Intensity[k] - fit.Fitted[k]
		has += fit.Fitted[k] - fit.Background[k]
	}
	return left < has
}
