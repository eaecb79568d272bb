package identify

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd"
)

// A stick is a line, or several that are not resolved, as screening sees it.
type stick struct {
	sin       float64 // of θ for Kα1
	intensity float64 // strongest single line of the phase = 100
}

// unresolved is the distance, degrees 2θ, within which a matched filter sees lines as one (common practice: a width).
const unresolved = 0.12

// sticks returns the strongest lines of a phase that diffract the radiation; lines that no scan resolves are one, so
// that a structure of many near-equal spacings does not count the same intensity several times.
func sticks(lines []refdata.Line, wavelength float64, most int) []stick {
	out := make([]stick, 0, len(lines))
	last := math.Inf(-1)
	for _, l := range lines { // ascending angle
		s := wavelength / (2 * l.D)
		if !(s < 0.999) {
			continue
		}
		angle := 2 * xrd.Degrees(math.Asin(s))
		if n := len(out) - 1; angle-last < unresolved {
			sum := out[n].intensity + l.Intensity
			out[n] = stick{(out[n].sin*out[n].intensity + s*l.Intensity) / sum, sum}
			continue
		}
		last = angle
		out = append(out, stick{s, l.Intensity})
	}
	slices.SortStableFunc(out, func(a, b stick) int { return -cmpFloat(a.intensity, b.intensity) })
	return out[:min(most, len(out))]
}

func strongSticks(lines []refdata.StrongLine, wavelength float64) []stick {
	out := make([]stick, 0, len(lines))
	for _, l := range lines {
		if s := wavelength / (2 * float64(l.D)); s < 0.999 {
			out = append(out, stick{s, float64(l.Intensity)})
		}
	}
	return out
}

func cmpFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// A trial is how well a phase explains what is left, at its best displacement and cell.
type trial struct {
	gain         float64 // reduction of the sum of weighted squares that its scale brings
	displacement float64 // mm
	stretch      float64 // relative change of all spacings
	scale        float64 // counts × degrees for the strongest line
	found        float64 // share of its testable intensity that is there
}

// A grid holds the misplacements that screening tries.
type grid struct {
	displacements []float64
	stretches     []float64
}

const (
	absentQuantile = 0.25 // intensity-weighted share of lines that may fall short before the scale gives way
	lineTolerance  = 0.3  // relative misfit of a line that texture and few grains make ordinary
	absentCost     = 25   // most that one absent line can cost, in units of weighted squares
)

// bestTrial tries all misplacements of a phase. The cost of a misplacement is that of its prior.
func bestTrial(f matchedFilter, lines []stick, g grid, radius, displacement0, stretchSigma float64) trial {
	best := trial{}
	buf := make([]observed, 0, len(lines))
	for _, d := range g.displacements {
		for _, e := range g.stretches {
			buf = look(f, lines, buf[:0], d, e, radius)
			t := weigh(buf)
			pd, pe := (d-displacement0)/0.15, e/stretchSigma
			t.gain -= pd*pd + pe*pe
			if t.gain > best.gain {
				t.displacement, t.stretch = d, e
				best = t
			}
		}
	}
	return best
}

// observed is a line with what the filter finds at its place.
type observed struct {
	intensity, area, u float64
}

func look(f matchedFilter, lines []stick, out []observed, displacement, stretch, radius float64) []observed {
	for _, l := range lines {
		s := l.sin / (1 + stretch)
		if !(s < 0.999) {
			continue
		}
		angle := 2 * xrd.Degrees(math.Asin(s))
		angle += xrd.DisplacementShift(angle, displacement, radius)
		if a, u, ok := f.at(angle); ok {
			out = append(out, observed{l.intensity / 100, a, u})
		}
	}
	return out
}

// weigh finds the scale that the lines support together and the gain it brings. A line allows at most the scale of its
// area and some uncertainty; the scale is the value that all but a quarter of the intensity allows, and no more than
// the fit of the lines to it. Intensity beyond the expected belongs to other phases and earns nothing.
func weigh(lines []observed) trial {
	if len(lines) == 0 {
		return trial{}
	}
	limit := supported(lines)
	var num, den float64
	for _, l := range lines {
		w := 1 / (l.u * l.u)
		num += math.Min(math.Max(l.area, 0), limit*l.intensity) * l.intensity * w
		den += l.intensity * l.intensity * w
	}
	s := num / den
	if !(s > 0) {
		return trial{}
	}
	t := trial{scale: s}
	var testable, found float64
	for _, l := range lines {
		z, e := l.area/l.u, s*l.intensity/l.u
		got := math.Min(z, e)
		t.gain += math.Max(2*got*e-e*e, -absentCost)
		if e > 3 {
			testable += l.intensity
			found += l.intensity * math.Max(0, math.Min(1, z/e))
		}
	}
	if testable > 0 {
		t.found = found / testable
	}
	return t
}

// supported returns the scale that all but absentQuantile of the intensity allows.
func supported(lines []observed) float64 {
	type bound struct{ scale, weight float64 }
	bounds := make([]bound, len(lines))
	var total float64
	for i, l := range lines {
		bounds[i] = bound{(math.Max(0, l.area) + 2*l.u) / (l.intensity * (1 - lineTolerance)), l.intensity}
		total += l.intensity
	}
	slices.SortFunc(bounds, func(a, b bound) int { return cmpFloat(a.scale, b.scale) })
	var sum float64
	for _, b := range bounds {
		if sum += b.weight; sum > absentQuantile*total {
			return b.scale
		}
	}
	return bounds[len(bounds)-1].scale
}
