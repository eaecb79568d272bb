package diagnose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

const (
	haloShare = 0.3 // height over the background beneath it from which a hump is one (common practice)
	haloSigma = 6.0 // and in standard uncertainties of the background averaged over its width
	haloWidth = 4.0 // degrees with Cu Kα, as many more as the wavelength is longer: narrower humps are peaks that were not found
	// thermalMost is how many times the diffuse scattering that thermal motion is expected to make a hump may be and still be that: it gathers under
	// groups of strong lines, and the feet of these come on top. Origin: reasoning; in twelve measured scans of crystalline minerals without glass
	// the background rises by 0.5 to 1.4 times as much where B is 1 Å².
	thermalMost = 2.0
	haloLeast   = 1.9 // Å: the first halo of glasses, resins and amorphous metals lies at wider spacings (common practice)
)

// halo looks for a broad hump in the fitted background: what stands above its lower convex hull. Air scatter,
// fluorescence and a flat background are convex and have none.
func halo(e Evidence) []xrd.Caution {
	at, height, beneath, found := Hump(e.Explanation.Fit)
	if !found || height < dilution*blankAt(e.Explanation.Fit, at) || height < thermalMost*thermalDiffuse(e.Explanation.Fit, at) {
		return nil
	}
	if m, ok := ofMount(e.Facts, at); ok && e.Explanation.Fit.Setup.Blank == nil {
		return []xrd.Caution{{Code: "amorphous-halo", Severity: xrd.SeverityNote,
			Text:     fmt.Sprintf("The broad hump near %.0f° is where the stated mount (%s) has its halo; it is taken into the background. An amorphous part of the specimen at the same place would not be told from it.", at, m.Material),
			Remedy:   "Scan a blank of the same mount (--blank) to tell the two apart. " + strings.Replace(m.Avoid, "; scan a blank of the mount", "", 1),
			Evidence: map[string]any{"two_theta": at, "height": height, "background": beneath, "mount": m.Material}}}
	}
	text := fmt.Sprintf("The background has a broad hump near %.0f° (%s): resin, glass or another amorphous part.", at, heightOver(height, beneath))
	if e.Explanation.Fit.Setup.Blank != nil {
		text = fmt.Sprintf("Beside the blank the background has a broad hump near %.0f°: glass or another amorphous part.", at)
	}
	return []xrd.Caution{{Code: "amorphous-halo", Severity: xrd.SeverityCaution, Text: text,
		Remedy:   "Scan a blank of the same mount and holder (--blank); if the specimen itself is partly glass, add a weighed standard (--spike).",
		Evidence: map[string]any{"two_theta": at, "height": height, "background": beneath}}}
}

// thermalDiffuse returns what thermal motion takes out of the lines about an angle and scatters between them, counts: what a crystal scatters
// sharply is exp(−2B s²) of the whole, s = sin θ/λ, and the rest goes over the neighbourhood of the lines, taken as broad as a halo (from memory:
// Warren, X-Ray Diffraction, on temperature vibration). Where B is not known it is 1 Å² (common practice).
func thermalDiffuse(fit *pattern.Fit, at float64) (height float64) {
	wavelength := fit.Setup.Radiation.KAlpha1
	width := haloFWHM * xrd.Broadness(wavelength)
	s := math.Sin(xrd.Radians(at)/2) / wavelength
	var all float64
	weights := make([]float64, len(fit.Setup.TwoTheta))
	for i, x := range fit.Setup.TwoTheta {
		weights[i] = math.Exp(-4 * math.Ln2 * (x - at) * (x - at) / (width * width))
		all += weights[i]
	}
	for p, curve := range fit.Curves {
		b := fit.Setup.Phases[p].MeanB
		if !(b > 0) {
			b = 1
		}
		height += math.Expm1(2*b*s*s) * floats.Dot(weights, curve) / all
	}
	return height
}

// dilution is the share of a blank that may be left beside it: the noise of the blank, as that of any regressor, makes its factor
// too small, by 10 % for a halo of three times the noise.
const dilution = 0.25

// blankAt returns how high a fitted blank stands within a degree of an angle over its lowest tenth; 0 without a blank.
func blankAt(fit *pattern.Fit, at float64) float64 {
	if fit.Setup.Blank == nil {
		return 0
	}
	var near []float64
	for i, x := range fit.Setup.TwoTheta {
		if math.Abs(x-at) < 1 {
			near = append(near, fit.Setup.Blank[i])
		}
	}
	sorted := slices.Sorted(slices.Values(fit.Setup.Blank))
	return fit.BlankScale * (stat.Mean(near, nil) - stat.Mean(sorted[:1+len(sorted)/10], nil))
}

// ofMount returns the stated mount or holder one of whose haloes has its top within half its width of an angle.
func ofMount(f Facts, at float64) (refdata.Preparation, bool) {
	for _, m := range refdata.MountOf(f.Preparations, f.Specimen.Mount) {
		for _, h := range m.Haloes {
			top, ok := xrd.TwoTheta(h.D, f.Radiation.KAlpha1)
			if ok && math.Abs(top-at) <= h.Width*xrd.Broadness(f.Radiation.KAlpha1)/2 {
				return m, true
			}
		}
	}
	return refdata.Preparation{}, false
}

// Hump returns the place and height of the halo of a fitted background beside the blank, with what lies beneath.
func Hump(fit *pattern.Fit) (at, height, beneath float64, found bool) {
	end := len(fit.Fitted)
	wavelength := fit.Setup.Radiation.KAlpha1
	if limit, ok := xrd.TwoTheta(haloLeast, wavelength); ok {
		end, _ = slices.BinarySearch(fit.Setup.TwoTheta, limit)
	}
	background := slices.Clone(fit.Background)
	for i, y := range fit.Setup.Blank { // the halo of the mount is the blank's
		background[i] -= fit.BlankScale * y
	}
	return hump(fit.Setup.TwoTheta, background, fit.Noise, end, haloWidth*wavelength/1.5406)
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

// heightOver tells the height of a hump against the background below it.
func heightOver(height, beneath float64) string {
	switch x := height / beneath; {
	case !(beneath > 0) || math.IsInf(x, 0):
		return fmt.Sprintf("%.3g high", height)
	case x > 1.5:
		return fmt.Sprintf("%.2g times as high as the background below it", x)
	default:
		return fmt.Sprintf("its height is %.0f %% of the background below it", 100*x)
	}
}
