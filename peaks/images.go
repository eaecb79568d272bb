package peaks

import (
	"math"

	"phasetally/xrd"
)

// An image is what a stronger peak looks like in another wavelength of the tube.
type image struct {
	kind       Kind
	wavelength float64 // Å
	most       float64 // largest credible ratio of areas
}

const (
	// imageWithin is how far a peak may be from where an image must be, in widths of its parent; as much again is left to uncertainty.
	imageWithin = 0.3
	// imageWidth is the greatest width of an image over that of its parent: the lines that tubes emit beside Kα are 6 eV wide of 8 keV
	// (from memory), which adds 0.09° to a line at 90°. What is wider is a part of the background.
	imageWidth = 2.0
)

// labelImages marks the Kβ and W Lα1 images of stronger peaks: within 0.3 of the width (and the uncertainty of both, up to as much) of
// where they must be, and not beyond doubt above 5 % or 2 % of the parent, and by half of that at most (common practice).
func labelImages(peaks []Peak, r xrd.Radiation) {
	images := []image{{WLine, xrd.WLAlpha, 0.02}}
	if r.KBeta > 0 {
		images = append(images, image{KBeta, r.KBeta, 0.05})
	}
	for i := range peaks {
		for _, im := range images {
			if of := parent(peaks, i, r, im); of >= 0 {
				peaks[i].Kind, peaks[i].Of = im.kind, of
				peaks[i].D = peaks[of].D
			}
		}
	}
}

// parent returns the strongest peak whose image peak i may be, or -1.
func parent(peaks []Peak, i int, r xrd.Radiation, im image) int {
	best := -1
	p := peaks[i]
	for j, q := range peaks {
		if q.Kind != KAlpha || p.FWHM > imageWidth*q.FWHM || p.Area-2*p.AreaU > im.most*q.Area || p.Area > 1.5*im.most*q.Area || best >= 0 && q.Area <= peaks[best].Area {
			continue
		}
		at, ok := xrd.ImageTwoTheta(q.TwoTheta, r.KAlpha1, im.wavelength)
		if ok && math.Abs(at-p.TwoTheta) < imageWithin*q.FWHM+math.Min(imageWithin*q.FWHM, 2*math.Hypot(p.TwoThetaU, q.TwoThetaU)) {
			best = j
		}
	}
	return best
}
