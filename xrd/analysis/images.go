package analysis

import (
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd/identify"
)

const (
	imagePlace = 0.6 // widths within which a line of a phase makes a peak
	imageShare = 0.5 // of the area of a peak that a line must give to make it
)

// askedPhases returns peaks as the phases have it: one that stands where another wavelength of the tube would put the image of a
// strong line, but that a line of a phase makes, is no image.
func askedPhases(found []peaks.Peak, phases *identify.Explanation) []peaks.Peak {
	if phases == nil || phases.Fit == nil {
		return found
	}
	out := slices.Clone(found)
	for k := range out {
		if p := &out[k]; p.Kind != peaks.KAlpha && madeByPhase(*p, phases.Matches) {
			p.Kind, p.Of = peaks.KAlpha, -1
		}
	}
	return out
}

// madeByPhase reports whether lines of phases make most of a peak.
func madeByPhase(p peaks.Peak, phases []identify.Match) bool {
	var area float64
	for _, m := range phases {
		for _, l := range m.Lines {
			if l.Covered && math.Abs(l.TwoTheta-p.TwoTheta) <= imagePlace*math.Max(p.FWHM, l.FWHM) {
				area += l.Fitted
			}
		}
	}
	return area >= imageShare*p.Area
}
