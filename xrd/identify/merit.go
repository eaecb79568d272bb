package identify

import (
	"math"

	"phasetally/peaks"
	"phasetally/xrd/pattern"
)

// A Merit holds figures of merit of how well the places of a phase's lines agree with peaks that were found without it.
type Merit struct {
	M        float64 // de Wolff's, of the first MLines lines
	MLines   int     // 20, or as many as there are
	F        float64 // Smith and Snyder's, of FLines lines
	FLines   int     // at most 30
	Delta    float64 // mean |Δ2θ| behind F, degrees
	Possible int     // lines that the cell allows up to the last one of F, those that the scan cannot tell apart taken as one
}

// DeWolff returns the figure of merit M = Q_N / (2 ⟨|ΔQ|⟩ N_possible), Q = 1/d² in Å⁻²: q is that of the last of the lines,
// deltas the discrepancies of all, possible the number of different calculated Q up to it. With 20 lines, more than 10 is
// plausible. It is +Inf for perfect agreement and 0 without lines.
// Source: de Wolff, J. Appl. Cryst. 1 (1968) 108–113, as given in Int. Tables H 3.4.2.1.
func DeWolff(q float64, deltas []float64, possible int) float64 {
	if len(deltas) == 0 || possible <= 0 {
		return 0
	}
	return q / (2 * meanAbs(deltas) * float64(possible))
}

// SmithSnyder returns F_N = N / (⟨|Δ2θ|⟩ N_possible), deltas in degrees. It is +Inf for perfect agreement and 0 without
// lines.
// Source: Smith & Snyder, J. Appl. Cryst. 12 (1979) 60–65.
func SmithSnyder(deltas []float64, possible int) float64 {
	if len(deltas) == 0 || possible <= 0 {
		return 0
	}
	return float64(len(deltas)) / (meanAbs(deltas) * float64(possible))
}

func meanAbs(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += math.Abs(x)
	}
	return sum / float64(len(v))
}

// MeritOf compares the fitted lines of a phase, in ascending angle, with peaks.
func MeritOf(lines []pattern.LineFit, found []peaks.Peak, wavelength float64) Merit {
	var m Merit
	var q, angles []float64
	q20 := 0.0
	possible, last := 0, math.Inf(-1)
	owner := nearestLines(lines, found)
	for k, l := range lines {
		if !l.Covered {
			continue
		}
		if l.TwoTheta-last > policy.Merit.SameLine*l.FWHM {
			possible++
			last = l.TwoTheta
		}
		i, ok := owner[k]
		if !ok {
			continue
		}
		p := found[i]
		d2 := p.TwoTheta - l.TwoTheta
		if len(q) < policy.Merit.M {
			q = append(q, qAt(p.TwoTheta, wavelength)-qAt(l.TwoTheta, wavelength))
			q20, m.MLines = qAt(p.TwoTheta, wavelength), len(q)
			m.M = DeWolff(q20, q, possible)
		}
		if len(angles) < policy.Merit.F {
			angles = append(angles, math.Max(policy.Merit.Delta, math.Abs(d2)))
			m.FLines, m.Delta, m.Possible = len(angles), meanAbs(angles), possible
			m.F = SmithSnyder(angles, possible)
		}
	}
	if m.FLines < policy.Merit.Least {
		return Merit{}
	}
	return m
}

// qAt returns 1/d² of an angle.
func qAt(twoTheta, wavelength float64) float64 {
	s := 2 * math.Sin(twoTheta*math.Pi/360) / wavelength
	return s * s
}

// nearestLines returns which peak each line makes, by numbers: of the lines that are near enough to a peak, and not covered by
// another phase, the nearest.
func nearestLines(lines []pattern.LineFit, found []peaks.Peak) map[int]int {
	out := map[int]int{}
	for i, p := range found {
		if p.Kind != peaks.KAlpha {
			continue
		}
		best, least := -1, 0.0
		for k, l := range lines {
			d := math.Abs(p.TwoTheta - l.TwoTheta)
			if l.Own() && d <= policy.Merit.SamePlace*l.FWHM && l.Fitted > policy.Merit.SameShare*p.Area && (best < 0 || d < least) {
				best, least = k, d
			}
		}
		if best >= 0 {
			out[best] = i
		}
	}
	return out
}
