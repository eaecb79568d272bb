package calibrate

import (
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
)

const (
	searchMM     = 1.0  // displacement, mm, within which lines are looked for
	searchStepMM = 0.01 // of which one step moves no line by more than a hundredth of a degree
	nearLine     = 0.10 // degrees between a peak and its line, at most, once the shift is known roughly
	leastShare   = 0.5  // of the amplitudes of the lines in range that must be seen
)

// priorZero and priorDisplacement are how far a diffractometer may be off (1 σ, common practice). They matter only where
// the scan itself cannot tell zero from displacement.
const (
	priorZero         = 0.1  // degrees
	priorDisplacement = 0.15 // mm
)

// A pair is a line of the standard with the peak that shows it.
type pair struct{ phase, peak int }

// matchLines finds the common shift at which the peaks are lines of the standard, strongest lines counting most, and
// pairs them. seen is the share of the amplitudes of the lines in range that has a peak.
func matchLines(found peaks.Found, phases []refdata.Phase, radius, lo, hi float64) (pairs []pair, start Shift, seen float64) {
	best := -1.0
	for s := -searchMM; s <= searchMM; s += searchStepMM {
		score := 0.0
		for _, p := range phases {
			line := p.Lines[0]
			at := line.TwoTheta + xrd.DisplacementShift(line.TwoTheta, s, radius)
			if k, d := nearestPeak(found.Peaks, at); k >= 0 && d < nearLine {
				score += amplitude(line, found.Peaks[k]) * (1 - d*d/(nearLine*nearLine))
			}
		}
		if score > best {
			best, start = score, Shift{Displacement: s, Radius: radius}
		}
	}
	for range 4 {
		pairs = pairLines(found, phases, start)
		fitted, err := fitRobustly(positionsOf(pairs, found, phases), radius)
		if err != nil {
			break
		}
		start = fitted
	}
	return pairs, start, shareSeen(pairs, phases, start, lo, hi)
}

// fitRobustly fits positions of which some may be wrong far beyond their uncertainties: each is taken to be no better
// than the median residual, and those that lie off by more than outlier times that are left out.
func fitRobustly(positions []Position, radius float64) (s Shift, err error) {
	prior := [2]float64{priorZero, priorDisplacement}
	kept, scatter := slices.Clone(positions), 0.01
	for range 6 {
		for i := range kept {
			kept[i].U = math.Hypot(kept[i].U, scatter)
		}
		if s, err = fitPositions(kept, radius, prior); err != nil {
			return s, err
		}
		off := make([]float64, len(positions))
		for i, p := range positions {
			at, _ := s.At(p.Reference)
			off[i] = math.Abs(p.Observed - p.Reference - at)
		}
		sorted := slices.Sorted(slices.Values(off))
		scatter = math.Max(1e-4, 1.4826*sorted[len(sorted)/2])
		kept = nil
		for i, p := range positions {
			if off[i] < outlier*math.Max(scatter, p.U) {
				kept = append(kept, p)
			}
		}
	}
	return s, nil
}

const outlier = 3.0

// amplitude weighs a pair: both the line and the peak must be strong to count much.
func amplitude(l refdata.Line, p peaks.Peak) float64 {
	return math.Sqrt(l.Intensity) * math.Min(1, p.Significance/20)
}

func nearestPeak(list []peaks.Peak, at float64) (index int, distance float64) {
	index, distance = -1, math.Inf(1)
	for k, p := range list {
		if d := math.Abs(p.TwoTheta - at); p.Kind == peaks.KAlpha && d < distance {
			index, distance = k, d
		}
	}
	return index, distance
}

// pairLines gives every line the peak within nearLine of its shifted place, unless that peak or line is shared with a
// neighbour: lines that overlap have no position of their own.
func pairLines(found peaks.Found, phases []refdata.Phase, s Shift) []pair {
	var out []pair
	for i, p := range phases {
		line := p.Lines[0]
		shift, _ := s.At(line.TwoTheta)
		k, d := nearestPeak(found.Peaks, line.TwoTheta+shift)
		if k < 0 || d > nearLine || crowded(phases, i, found.Peaks[k].FWHM) {
			continue
		}
		out = append(out, pair{i, k})
	}
	return out
}

// crowded reports whether a line has a neighbour, not much weaker than itself, within three widths.
func crowded(phases []refdata.Phase, i int, fwhm float64) bool {
	line := phases[i].Lines[0]
	for j, q := range phases {
		o := q.Lines[0]
		if j != i && math.Abs(o.TwoTheta-line.TwoTheta) < 3*fwhm && o.Intensity > 0.02*line.Intensity {
			return true
		}
	}
	return false
}

func positionsOf(pairs []pair, found peaks.Found, phases []refdata.Phase) []Position {
	out := make([]Position, 0, len(pairs))
	for _, m := range pairs {
		p := found.Peaks[m.peak]
		out = append(out, Position{phases[m.phase].Lines[0].TwoTheta, p.TwoTheta, math.Max(p.TwoThetaU, 1e-5)})
	}
	return out
}

// shareSeen leaves crowded lines out of both sides.
func shareSeen(pairs []pair, phases []refdata.Phase, s Shift, lo, hi float64) float64 {
	var seen, all float64
	has := map[int]bool{}
	for _, m := range pairs {
		has[m.phase] = true
	}
	for i, p := range phases {
		line := p.Lines[0]
		shift, _ := s.At(line.TwoTheta)
		at := line.TwoTheta + shift
		if at < lo || at > hi || !has[i] && crowded(phases, i, 0.15) {
			continue
		}
		all += math.Sqrt(line.Intensity)
		if has[i] {
			seen += math.Sqrt(line.Intensity)
		}
	}
	if !(all > 0) {
		return 0
	}
	return seen / all
}
