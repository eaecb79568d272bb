package screen

import (
	"math"
	"slices"

	"phasetally/refdata"
)

// Misplacements that are tried: of the specimen ±0.5 mm, of the cell as far as the phase allows.
const (
	farthest         = 0.5 // mm
	displacementStep = 0.0625
	// NarrowReach is the relative change of cell that is tried of a phase with one composition, WideReach that of a phase that
	// forms solid solutions (common practice).
	NarrowReach = 0.008
	WideReach   = 0.03
)

// displacements returns those of the specimen that are tried, mm.
func displacements() []float64 { return steps(farthest, displacementStep) }

// steps returns values from −reach to reach.
func steps(reach, step float64) []float64 {
	n := int(math.Round(reach / step))
	out := make([]float64, 0, 2*n+1)
	for k := -n; k <= n; k++ {
		out = append(out, float64(k)*step)
	}
	return out
}

// Reach returns how far the cell of a phase may be changed, relative.
func Reach(solidSolution bool) float64 {
	if solidSolution {
		return WideReach
	}
	return NarrowReach
}

// CellSigma is the standard deviation of the prior of a phase's cell, relative, as package pattern has it.
func CellSigma(solidSolution bool) float64 {
	if solidSolution {
		return 0.02
	}
	return 0.003
}

const (
	twinLeast = 0.1 // intensity over the strongest from which a line must have a partner
	twinRatio = 2.0 // most that intensities of partners differ by, beside
	// what displacement parameters make of them, which differ by up to this between two of a kind, Å² (metals at room temperature 0.3 to 2, from
	// memory; the fading of the atoms' own scattering differs by as much): niobium and titanium (β) differ 2.2-fold at 310, and smoothly.
	twinB = 1.0
)

// SameLines reports whether two phases have the same lines within the scan when their spacings may differ by a relative
// change.
func (s *Screen) SameLines(a, b refdata.Phase, change float64) bool {
	x, y := s.grid.sticks(a.Lines, mostSticks), s.grid.sticks(b.Lines, mostSticks)
	most := int(change / binWidth)
	for shift := -most; shift <= most; shift++ {
		if s.grid.within(x, y, shift) && s.grid.within(y, x, -shift) {
			return true
		}
	}
	return false
}

// within reports whether all strong lines have a partner among others that are shifted by a number of bins.
func (r logGrid) within(lines, others []stick, shift int) bool {
	for _, l := range lines {
		if l.intensity < twinLeast {
			continue
		}
		reach := 2 + int(r.gap[l.bin])
		ratio := twinRatio * math.Exp(2*twinB*math.Abs(r.s2(l.bin)-r.s2(lines[0].bin)))
		if !slices.ContainsFunc(others, func(o stick) bool {
			d := o.bin + shift - l.bin
			return d >= -reach && d <= reach && o.intensity < ratio*l.intensity && l.intensity < ratio*o.intensity
		}) {
			return false
		}
	}
	return len(lines) > 0
}
