package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

const (
	edgeSigmas  = 5.0  // significance of a step; one is asked for, of all lines together
	edgeWindow  = 1.0  // degrees on each side of the foot
	edgeStrong  = 0.05 // of the strongest line: weaker ones have no foot that can be seen
	edgeAdds    = 0.01 // of the strongest line: the white radiation of weaker ones is left out
	edgeClear   = 1.5  // widths of the line below its centre at which the window ends
	edgePoints  = 12   // the least that a step is estimated from
	edgeTails   = 0.1  // relative error of fitted lines beside a foot (whole patterns misfit by 5 to 10 %; common practice)
	edgeBand    = 0.2  // of the wavelength: how wide a detector looks (strip and proportional detectors at 8 keV; common practice)
	edgeDiffer  = 0.01 // probability of chance below which heights count as different
	edgeOfHump  = 0.5  // of the height of a hump that the white radiation must have there
	edgeBefore  = 0.3  // degrees below a foot and
	edgeAt      = 40.0 // degrees 2θ for which its height is told: it goes as cot θ
	edgeReaches = 0.35 // of the wavelength beyond Kα1 to which white radiation is followed
)

// A Step is the step of white radiation at the low-angle foot of strong lines: the planes that diffract Kα1 at θ send λ to
// sin θ' = sin θ λ/λ1, and a filter takes what is shorter than its K edge.
type Step struct {
	lines          []lineFoot // the strongest first
	height, sigmas float64    // of the step over the integrated intensity of its line, per degree at 40°
}

// lineFoot is a line, degrees 2θ, with the angle of its foot and its sin θ.
type lineFoot struct{ at, foot, width, fitted, sine float64 }

// EdgeStep looks for steps in the residual of a fit at the feet of strong lines, all of the same height beside their lines.
func EdgeStep(out *identify.Explanation) (Step, bool) {
	fit := out.Fit
	if fit == nil || fit.Setup.Instrument.Monochromator.Kind != xrd.NoMonochromator {
		return Step{}, false
	}
	_, edge, ok := fit.Setup.Radiation.Filter()
	if !ok {
		return Step{}, false
	}
	s := Step{lines: feetOf(out.Matches, fit.Setup.Radiation.KAlpha1, edge)}
	if len(s.lines) == 0 {
		return s, false
	}
	used := make([]bool, len(fit.Setup.TwoTheta))
	var each [][2]float64 // height and one over its variance
	for _, l := range s.lines {
		if l.fitted < edgeStrong*s.lines[0].fitted {
			break
		}
		if h, w, ok := s.at(fit, l, used); ok {
			each = append(each, [2]float64{h, w})
		}
	}
	s.height, s.sigmas = together(each)
	return s, s.sigmas > edgeSigmas
}

// together returns the weighted mean of heights over its standard uncertainty, which is larger where they disagree.
func together(each [][2]float64) (height, sigmas float64) {
	var sum, weight, chi2 float64
	for _, e := range each {
		sum, weight = sum+e[0]*e[1], weight+e[1]
	}
	if !(weight > 0) {
		return 0, 0
	}
	height = sum / weight
	for _, e := range each {
		chi2 += (e[0] - height) * (e[0] - height) * e[1]
	}
	birge := 1.0
	if n := float64(len(each) - 1); n > 0 && (distuv.ChiSquared{K: n}).Survival(chi2) < edgeDiffer {
		birge = math.Sqrt(chi2 / n)
	}
	return height, height * math.Sqrt(weight) / birge
}

// feetOf returns the lines that may have a foot, the strongest first.
func feetOf(matches []identify.Match, wavelength, edge float64) []lineFoot {
	var out []lineFoot
	for _, m := range matches {
		for _, l := range m.Lines {
			if foot, ok := xrd.ImageTwoTheta(l.TwoTheta, wavelength, edge); ok && l.Fitted > 0 {
				out = append(out, lineFoot{at: l.TwoTheta, foot: foot, width: l.FWHM, fitted: l.Fitted, sine: math.Sin(xrd.Radians(l.TwoTheta / 2))})
			}
		}
	}
	slices.SortStableFunc(out, func(a, b lineFoot) int { return cmp.Compare(b.fitted, a.fitted) })
	end := slices.IndexFunc(out, func(l lineFoot) bool { return l.fitted < edgeAdds*out[0].fitted })
	if end >= 0 {
		out = out[:end]
	}
	return out
}

// shape is the white radiation of all lines at an angle, for a height of 1.
func (s Step) shape(twoTheta float64) (sum float64) {
	sin, cos := math.Sincos(xrd.Radians(twoTheta / 2))
	for _, l := range s.lines {
		if u := sin/l.sine - 1; twoTheta >= l.foot && u < edgeReaches {
			sum += l.fitted * math.Exp(-4*math.Ln2*u*u/(edgeBand*edgeBand))
		}
	}
	return sum * math.Tan(xrd.Radians(edgeAt/2)) * cos / sin
}

// at estimates the height of the white radiation from the points about one foot that no stronger line has used, beside a straight
// line through what the phases leave there, with one over its variance. The fitted background is not used: it may have bent to take
// up a part of the step.
func (s Step) at(fit *pattern.Fit, l lineFoot, used []bool) (height, weight float64, ok bool) {
	below, above := edgeWindow, math.Min(edgeWindow, l.at-l.foot-edgeClear*l.width)
	from, _ := slices.BinarySearch(fit.Setup.TwoTheta, l.foot-below)
	to, _ := slices.BinarySearch(fit.Setup.TwoTheta, l.foot+above)
	var rows, right []float64
	side := [2]int{}
	for i := from; i < to; i++ {
		if used[i] {
			continue
		}
		used[i] = true
		var lines float64
		for _, c := range fit.Curves {
			lines += c[i]
		}
		x := fit.Setup.TwoTheta[i] - l.foot
		w := 1 / math.Sqrt(fit.NoiseAt(i)+edgeTails*edgeTails*lines*lines)
		rows = append(rows, w, w*x, w*s.shape(fit.Setup.TwoTheta[i]))
		right = append(right, w*(fit.Setup.Intensity[i]-lines))
		if x < 0 {
			side[0]++
		} else {
			side[1]++
		}
	}
	if min(side[0], side[1]) < edgePoints/2 {
		return 0, 0, false
	}
	return lastOf(rows, right)
}

// lastOf solves for three parameters by least squares and returns the last one, with one over its variance, which is larger where
// the three do not describe the points: where a peak is left that no phase has.
func lastOf(rows, right []float64) (value, weight float64, ok bool) {
	a, b := mat.NewDense(len(right), 3, rows), mat.NewVecDense(len(right), right)
	var normal, inverse mat.Dense
	normal.Mul(a.T(), a)
	if inverse.Inverse(&normal) != nil {
		return 0, 0, false
	}
	var x, ab mat.VecDense
	ab.MulVec(a.T(), b)
	x.MulVec(&inverse, &ab)
	var left mat.VecDense
	left.MulVec(a, &x)
	left.SubVec(b, &left)
	v := inverse.At(2, 2) * math.Max(1, mat.Dot(&left, &left)/float64(len(right)-3))
	return x.AtVec(2), 1 / v, v > 0
}

// edgeStep reports the step of the filter's edge.
func edgeStep(e Evidence) []xrd.Caution {
	s, ok := EdgeStep(e.Explanation)
	if !ok {
		return nil
	}
	filter, _, _ := e.Facts.Radiation.Filter()
	return []xrd.Caution{{Code: "edge-step", Severity: xrd.SeverityNote,
		Text:     fmt.Sprintf("White radiation steps at the K edge of the %s filter on the low-angle foot of strong lines, the clearest at %.2f°; it is neither a halo nor a phase.", filter, s.lines[0].foot),
		Remedy:   "A monochromator or a detector with a narrow energy window removes it.",
		Evidence: map[string]any{"two_theta": s.lines[0].foot, "significance": s.sigmas, "height": s.height}}}
}

// OnFoot reports whether an angle lies between the foot of a strong line and the line, where a step may pass for a peak.
func (s Step) OnFoot(twoTheta float64) bool {
	return slices.ContainsFunc(s.lines, func(l lineFoot) bool {
		return l.fitted > edgeStrong*s.lines[0].fitted && twoTheta > l.foot-edgeBefore && twoTheta < l.at-l.width
	})
}

// onFoot reports whether a filter's edge makes a step at an angle.
func (e Evidence) onFoot(twoTheta float64) bool {
	if !e.fitted() {
		return false
	}
	s, ok := EdgeStep(e.Explanation)
	return ok && s.OnFoot(twoTheta)
}

// humpOnFoot reports whether the hump of the background is where the filter's edge makes a step.
func humpOnFoot(e Evidence, c xrd.Caution) bool {
	s, ok := EdgeStep(e.Explanation)
	at, told := c.Evidence["two_theta"].(float64)
	height, high := c.Evidence["height"].(float64)
	return ok && told && high && s.height*s.shape(at) > edgeOfHump*height
}

// restsOnFoot reports whether half of what is seen of a phase lies where the filter's edge makes a step.
func restsOnFoot(e Evidence, c xrd.Caution) bool {
	s, ok := EdgeStep(e.Explanation)
	if !ok {
		return false
	}
	var all, foot float64
	for _, l := range e.about(c) {
		if l.Covered && l.Observed > 0 {
			all += l.Observed
			if s.OnFoot(l.TwoTheta) {
				foot += l.Observed
			}
		}
	}
	return foot > all/2
}
