package peaks

import (
	"fmt"
	"math"
	"slices"

	"phasetally/xrd"
)

// doubts lists what makes the peaks of a scan less than they seem.
func (f Found) doubts(scan xrd.Scan, wavelength float64, bad defects) []xrd.Caution {
	var out []xrd.Caution
	add := func(code string, severity xrd.Severity, text, remedy string, evidence map[string]any) {
		out = append(out, xrd.Caution{Code: code, Severity: severity, Text: text, Remedy: remedy, Evidence: evidence})
	}
	step := scan.Step()
	lo, hi := scan.Range()
	if c, ok := transformed(scan.Intensity); ok {
		out = append(out, c)
	}
	if f.Noise.Kind == Estimated {
		text := "The intensities are not raw counts; their uncertainties are estimated from their scatter."
		if f.Noise.Correlation >= smoothed {
			text = "The intensities are smoothed; their uncertainties are estimated from their scatter."
		}
		add("not-counts", xrd.SeverityCaution, text, "Export the raw counts, neither scaled, smoothed nor background-subtracted.",
			map[string]any{"gain": f.Noise.Gain, "floor": f.Noise.Floor, "correlation": f.Noise.Correlation})
	}
	if n := len(bad.spikes); n > 0 {
		add("spikes", xrd.SeverityCaution, fmt.Sprintf("Single points stand up alone, the first at %.3f°; %s left out.", scan.TwoTheta[bad.spikes[0]], counted(n)),
			"Repeat the scan; if they come back at the same angles, the detector has a bad channel.", map[string]any{"two_theta": angles(scan, bad.spikes)})
	}
	if n := len(bad.dropped); n > 0 {
		add("dropouts", xrd.SeverityCaution, fmt.Sprintf("Points lie far below all around, the first at %.3f°; %s left out.", scan.TwoTheta[bad.dropped[0]], counted(n)),
			"Look for a dead channel of the detector or a beam that went away, and repeat the scan.", map[string]any{"two_theta": angles(scan, bad.dropped)})
	}
	if f.Stripped {
		out = append(out, Stripped())
	}
	if at, height, ok := f.hump(scan, wavelength); ok {
		add("amorphous-halo", xrd.SeverityCaution, fmt.Sprintf("The background has a broad hump near %.0f°, %.0f high: resin, glass or another amorphous part.", at, height),
			"Scan a blank of the same mount and holder; fractions are of the crystalline part only.", map[string]any{"two_theta": at, "height": height})
	}
	if len(bad.clipped) > 0 {
		at, level := scan.TwoTheta[bad.clipped[0]], scan.Intensity[bad.clipped[0]]
		add("saturation", xrd.SeverityCaution, fmt.Sprintf("The detector seems to saturate: the top of the peak at %.2f° is flat at %g. What lies there is left out, and intensities come from the flanks.", at, level),
			"Attenuate the beam, lower the tube current or narrow the slit, and scan again.", map[string]any{"two_theta": at, "level": level, "points": len(bad.clipped)})
	}
	if w, at := f.narrowest(lo, hi); w < 4*step {
		add("step-too-coarse", xrd.SeverityCaution, fmt.Sprintf("Steps of %.3g° give only %.1f points across a peak of %.3f° at %.1f°.", step, w/step, w, at),
			"Scan in steps of a fifth to a tenth of the narrowest width.", map[string]any{"step": step, "fwhm": w})
	}
	if covers := xrd.Covered(scan.TwoTheta, xrd.Runs(scan.TwoTheta)); covers < 20 {
		doubt := ""
		if hi < notDegrees {
			doubt = "Check that the first column holds degrees 2θ, not radians, Å or 1/Å. "
		}
		add("range-too-short", xrd.SeverityCaution, fmt.Sprintf("The scan covers only %.1f°, from %.1f° to %.1f°.", covers, lo, hi),
			doubt+"Scan from 3° below the first strong line to at least four lines of every main phase.", map[string]any{"two_theta_min": lo, "two_theta_max": hi})
	}
	if most, counts := f.strongestCounts(step); len(f.Peaks) > 0 && counts && most < 2000 {
		add("counts-too-low", xrd.SeverityNote, fmt.Sprintf("The strongest peak has %.0f net counts; minor phases may hide in the noise.", most),
			fmt.Sprintf("Count about %.0f times longer for 10 000.", math.Ceil(1e4/math.Max(most, 1))), map[string]any{"net_counts": most})
	}
	if len(f.Peaks) == 0 {
		add("counts-too-low", xrd.SeverityStop, "No peak stands out of the noise.", "Count longer, check radiation and alignment, or accept that the specimen is amorphous.",
			map[string]any{"threshold": f.Threshold})
	}
	return out
}

// notDegrees is the angle, degrees, below which a whole scan ends only where its first column holds something else: no powder
// has its lines there with the tubes of a laboratory, while radians end below π, and spacings and scattering vectors at some 10.
const notDegrees = 10.0

// angles returns those of points.
func angles(scan xrd.Scan, points []int) []float64 {
	at := make([]float64, len(points))
	for i, k := range points {
		at[i] = scan.TwoTheta[k]
	}
	return at
}

// counted says how many are.
func counted(n int) string {
	if n == 1 {
		return "1 is"
	}
	return fmt.Sprintf("%d are", n)
}

// edgeWidths is how many widths of a peak it must lie from the ends of a scan for its width to say something: what is cut looks narrow.
const edgeWidths = 2.0

// narrowest returns the smallest width of a peak of a scan from lo to hi, and where: that of the curve, which is laid through strong
// peaks and may be off beyond them, or the fitted one where that is surely larger.
func (f Found) narrowest(lo, hi float64) (fwhm, at float64) {
	fwhm = math.Inf(1)
	for _, p := range f.Peaks {
		w := math.Max(f.Width.At(p.TwoTheta), p.FWHM-2*p.FWHMU)
		if w < fwhm && p.TwoTheta > lo+edgeWidths*w && p.TwoTheta < hi-edgeWidths*w {
			fwhm, at = w, p.TwoTheta
		}
	}
	return fwhm, at
}

// strongestCounts returns the net counts of the strongest peak, when intensities are counts.
func (f Found) strongestCounts(step float64) (float64, bool) {
	most := 0.0
	for _, p := range f.Peaks {
		most = math.Max(most, p.Area/step)
	}
	return most, f.Noise.Kind == Poisson
}

// haloWidth is the least width of a halo at half height, degrees with Cu Kα; what is narrower is the foot of strong peaks
// (common practice: haloes are 6° to 12° wide).
const haloWidth = 4.0

// hump returns the place and height of the broadest rise of the background over its lower convex hull, when it is as wide
// as a halo and well above the noise of a degree and a twelfth of the background. Air scatter is convex and makes none.
func (f Found) hump(scan xrd.Scan, wavelength float64) (at, height float64, ok bool) {
	t, b := scan.TwoTheta, f.Background
	rise := slices.Clone(b)
	for i, h := range LowerHull(t, b) {
		rise[i] -= h
	}
	best := 0
	for i, r := range rise {
		if r > rise[best] {
			best = i
		}
	}
	height = rise[best]
	lo, hi := best, best
	for lo > 0 && rise[lo-1] > height/2 {
		lo--
	}
	for hi+1 < len(t) && rise[hi+1] > height/2 {
		hi++
	}
	perDegree := math.Max(1/scan.Step(), 1)
	wide := t[hi]-t[lo] >= haloWidth*xrd.Broadness(wavelength)
	return t[best], height, wide && height > 0.08*math.Abs(b[best]) && height > 8*f.Sigma[best]/math.Sqrt(perDegree)
}

// LowerHull returns the greatest convex function below a curve, at the points of the curve.
func LowerHull(x, y []float64) []float64 {
	var corners []int
	for i := range x {
		for len(corners) >= 2 {
			a, b := corners[len(corners)-2], corners[len(corners)-1]
			if (y[b]-y[a])*(x[i]-x[a]) < (y[i]-y[a])*(x[b]-x[a]) {
				break
			}
			corners = corners[:len(corners)-1]
		}
		corners = append(corners, i)
	}
	hull := slices.Clone(y)
	for k := 1; k < len(corners); k++ {
		a, b := corners[k-1], corners[k]
		for i := a + 1; i < b; i++ {
			hull[i] = y[a] + (y[b]-y[a])*(x[i]-x[a])/(x[b]-x[a])
		}
	}
	return hull
}

// Stripped is the caution of a scan from which Kα2 was taken away.
func Stripped() xrd.Caution {
	return xrd.Caution{Code: "alpha2-missing", Severity: xrd.SeverityCaution, Text: "Lines are single: Kα2 seems to have been stripped; the scan is fitted without it.",
		Remedy: "Export the scan as measured, or state one wavelength.", Evidence: map[string]any{"alpha2_ratio": 0}}
}
