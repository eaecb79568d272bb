package analysis

import (
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd"
)

const (
	haloShare = 0.3 // height over the background beneath it from which a hump is one (common practice)
	haloSigma = 6.0 // and in standard uncertainties of the background averaged over its width
	haloWidth = 4.0 // degrees with Cu Kα, as many more as the wavelength is longer: narrower humps are peaks that were not found
	haloLeast = 1.9 // Å: the first halo of glasses, resins and amorphous metals lies at wider spacings (common practice)
)

// haloCaution looks for a broad hump in the fitted background: what stands above its lower convex hull. Air scatter,
// fluorescence and a flat background are convex and have none.
func (r *run) haloCaution() []xrd.Caution {
	at, height, beneath, found := r.hump()
	if !found {
		return nil
	}
	text := fmt.Sprintf("The background has a broad hump near %.0f° (%.0f %% above what lies beneath): resin, glass or another amorphous part.", at, 100*height/beneath)
	if r.outcome.Fit.Setup.Blank != nil {
		text = fmt.Sprintf("Beside the blank the background has a broad hump near %.0f°: glass or another amorphous part.", at)
	}
	return []xrd.Caution{{Code: "amorphous-halo", Severity: xrd.Warn, Text: text,
		Remedy:   "Scan a blank of the same mount and holder (--blank); if the specimen itself is partly glass, add a weighed standard (--spike).",
		Evidence: map[string]any{"two_theta": at, "height": height, "background": beneath}}}
}

// hump returns the place and height of the halo of the fitted background, with what lies beneath.
func (r *run) hump() (at, height, beneath float64, found bool) {
	fit := r.outcome.Fit
	end := len(fit.Fitted)
	if limit, ok := xrd.TwoTheta(haloLeast, r.job.Radiation.KAlpha1); ok {
		end, _ = slices.BinarySearch(fit.Setup.TwoTheta, limit)
	}
	return hump(fit.Setup.TwoTheta, fit.Background, fit.Noise, end, haloWidth*r.job.Radiation.KAlpha1/1.5406)
}

// hump returns the place and height of the highest of the first end points of a curve over its lower convex hull, with
// the hull there; it must be at least so many degrees wide.
func hump(x, y, variance []float64, end int, width float64) (at, height, beneath float64, ok bool) {
	hull := peaks.LowerHull(x, y)
	best := -1
	for i := range end {
		if best < 0 || y[i]-hull[i] > y[best]-hull[best] {
			best = i
		}
	}
	if best < 0 {
		return 0, 0, 0, false
	}
	height, beneath = y[best]-hull[best], hull[best]
	lo, hi := best, best
	for lo > 0 && y[lo]-hull[lo] > height/2 {
		lo--
	}
	for hi < len(x)-1 && y[hi]-hull[hi] > height/2 {
		hi++
	}
	var v float64
	for _, s := range variance[lo : hi+1] {
		v += s
	}
	n := float64(hi - lo + 1)
	u := math.Sqrt(v) / n
	return x[best], height, beneath, x[hi]-x[lo] >= width && height > haloShare*math.Max(beneath, 0) && height > haloSigma*u
}
