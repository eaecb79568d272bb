package peaks

import (
	"fmt"
	"math"

	"phasetally/xrd"
)

// findSpikes returns the points that stand up alone, as a cosmic ray or a hot channel does: at least eight standard
// uncertainties over the background, while both neighbours have less than a quarter of that. When there are many, the
// steps are too coarse rather than the detector ill, and nothing is masked.
func findSpikes(scan xrd.Scan, noise NoiseModel, background []float64) (spikes []int, masked []bool) {
	y := scan.Intensity
	for i := 1; i+1 < len(y); i++ {
		net := y[i] - background[i]
		sigma := math.Sqrt(noise.Variance(background[i]))
		if scan.Sigma != nil {
			sigma = scan.Sigma[i]
		}
		beside := math.Max(y[i-1]-background[i-1], y[i+1]-background[i+1])
		if net > 8*sigma && beside < 0.25*net-3*math.Sqrt(noise.Variance(background[i]+0.25*net)) && net > 6*math.Sqrt(noise.Variance(y[i])) {
			spikes = append(spikes, i)
		}
	}
	if len(spikes) == 0 || len(spikes) > 5 {
		return nil, nil
	}
	masked = make([]bool, len(y))
	for _, i := range spikes {
		masked[i] = true
	}
	return spikes, masked
}

// doubts lists what makes the peaks of a scan less than they seem.
func (f Found) doubts(scan xrd.Scan, spikes []int) []xrd.Caution {
	var out []xrd.Caution
	add := func(code string, severity xrd.Severity, text, remedy string, evidence map[string]any) {
		out = append(out, xrd.Caution{Code: code, Severity: severity, Text: text, Remedy: remedy, Evidence: evidence})
	}
	step := scan.Step()
	lo, hi := scan.Range()
	if f.Noise.Kind == Estimated {
		text := "The intensities are not raw counts; their uncertainties are estimated from their scatter."
		if f.Noise.Correlation >= smoothed {
			text = "The intensities are smoothed; their uncertainties are estimated from their scatter."
		}
		add("not-counts", xrd.Warn, text, "Export the raw counts, neither scaled, smoothed nor background-subtracted.",
			map[string]any{"gain": f.Noise.Gain, "floor": f.Noise.Floor, "correlation": f.Noise.Correlation})
	}
	if len(spikes) > 0 {
		at := make([]float64, len(spikes))
		for i, k := range spikes {
			at[i] = scan.TwoTheta[k]
		}
		add("spikes", xrd.Warn, fmt.Sprintf("%d single points stand up alone, the first at %.3f°; they are left out.", len(spikes), at[0]),
			"Repeat the scan; if they come back at the same angles, the detector has a bad channel.", map[string]any{"two_theta": at})
	}
	if f.Stripped {
		add("alpha2-missing", xrd.Warn, "Strong peaks at high angles are single: Kα2 seems to have been stripped, and the peaks are fitted without it.",
			"Export the scan as measured, or state one wavelength.", map[string]any{"alpha2_ratio": 0})
	}
	if at, height, ok := f.hump(scan); ok {
		add("amorphous-halo", xrd.Warn, fmt.Sprintf("The background has a broad hump near %.0f°, %.0f high: resin, glass or another amorphous part.", at, height),
			"Scan a blank of the same mount and holder; fractions are of the crystalline part only.", map[string]any{"two_theta": at, "height": height})
	}
	if at, level, ok := flatTop(scan, f); ok {
		add("saturation", xrd.Warn, fmt.Sprintf("The peak at %.2f° has a flat top at %g: the detector may saturate.", at, level),
			"Attenuate the beam, lower the tube current or narrow the slit, and scan again.", map[string]any{"two_theta": at, "level": level})
	}
	if w, at := f.narrowest(lo, hi); w < 4*step {
		add("step-too-coarse", xrd.Warn, fmt.Sprintf("Steps of %.3g° give only %.1f points across a peak of %.3f° at %.1f°.", step, w/step, w, at),
			"Scan in steps of a fifth to a tenth of the narrowest width.", map[string]any{"step": step, "fwhm": w})
	}
	if hi-lo < 20 {
		add("range-too-short", xrd.Warn, fmt.Sprintf("The scan covers only %.1f°, from %.1f° to %.1f°.", hi-lo, lo, hi),
			"Scan from 3° below the first strong line to at least four lines of every main phase.", map[string]any{"two_theta_min": lo, "two_theta_max": hi})
	}
	if most, counts := f.strongestCounts(step); len(f.Peaks) > 0 && counts && most < 2000 {
		add("counts-too-low", xrd.Note, fmt.Sprintf("The strongest peak has %.0f net counts; minor phases may hide in the noise.", most),
			fmt.Sprintf("Count about %.0f times longer for 10 000.", math.Ceil(1e4/math.Max(most, 1))), map[string]any{"net_counts": most})
	}
	if len(f.Peaks) == 0 {
		add("counts-too-low", xrd.Refuse, "No peak stands out of the noise.", "Count longer, check radiation and alignment, or accept that the specimen is amorphous.",
			map[string]any{"threshold": f.Threshold})
	}
	return out
}

// narrowest returns the smallest width of the curve over the range of the peaks, and where.
func (f Found) narrowest(lo, hi float64) (fwhm, at float64) {
	fwhm = math.Inf(1)
	for _, p := range f.Peaks {
		if w := f.Width.At(p.TwoTheta); w < fwhm {
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

// flatTop reports the highest level of the scan when at least three neighbours share it to within a tenth of what
// counting allows, far above the background.
func flatTop(scan xrd.Scan, f Found) (at, level float64, ok bool) {
	top := 0
	for i, y := range scan.Intensity {
		if y > scan.Intensity[top] {
			top = i
		}
	}
	level = scan.Intensity[top]
	sigma := math.Sqrt(f.Noise.Variance(level))
	if level < f.Background[top]+20*sigma {
		return 0, 0, false
	}
	run := 0
	for i := top; i < len(scan.Intensity) && scan.Intensity[i] >= level-0.1*sigma; i++ {
		run++
	}
	return scan.TwoTheta[top], level, run >= 3
}

// hump returns the place and height of the broadest rise of the background over its lower convex hull, when it is well
// above the noise of a degree and a twentieth of the background. Air scatter is convex and makes none.
func (f Found) hump(scan xrd.Scan) (at, height float64, ok bool) {
	t, b := scan.TwoTheta, f.Background
	hull := []int{0}
	for i := 1; i < len(b); i++ {
		for len(hull) > 1 {
			p, q := hull[len(hull)-2], hull[len(hull)-1]
			if (b[q]-b[p])*(t[i]-t[p]) < (b[i]-b[p])*(t[q]-t[p]) {
				break
			}
			hull = hull[:len(hull)-1]
		}
		hull = append(hull, i)
	}
	best, k := 0, 0
	for i := range b {
		for k+2 < len(hull) && hull[k+1] < i {
			k++
		}
		p, q := hull[k], hull[k+1]
		if rise := b[i] - b[p] - (b[q]-b[p])*(t[i]-t[p])/(t[q]-t[p]); rise > height {
			best, height = i, rise
		}
	}
	perDegree := math.Max(1/scan.Step(), 1)
	return t[best], height, height > 0.08*math.Abs(b[best]) && height > 8*f.Sigma[best]/math.Sqrt(perDegree)
}
