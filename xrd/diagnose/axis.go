package diagnose

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
)

const (
	axisLines  = 6     // strongest lines of a phase in the range, each of which must be at a peak
	axisLeast  = 10.0  // of 100: relative intensity that the weakest of them must have
	axisWithin = 0.003 // relative difference of spacings: a displacement of 0.1 mm at 20°, or the middle of a doublet that was taken for one line
	axisOwn    = 0.004 // the same for the area, so that both lines of the Kα doublet count
	axisShare  = 0.5   // of the area of all peaks that must be at lines of the phase
	axisPeaks  = 40    // that are looked at, the strongest: noise has more
)

// axis is a quantity that a first column may hold, with the spacing in Å that a value stands for and how to make 2θ of it.
type axis struct {
	name, remedy string
	spacing      func(x, wavelength float64) float64
}

// axes are those that programs export beside 2θ.
var axes = []axis{
	{"θ", "Double the first column.", func(x, w float64) float64 { return w / (2 * math.Sin(xrd.Radians(x))) }},
	{"spacings d in Å", "Write 2θ = 2 asin(λ/2d) into the first column.", func(x, _ float64) float64 { return x }},
	{"Q = 4π sin θ/λ in 1/Å", "Write 2θ = 2 asin(Qλ/4π) into the first column.", func(x, _ float64) float64 { return 2 * math.Pi / x }},
	{"Q = 4π sin θ/λ in 1/nm", "Write 2θ = 2 asin(Qλ/4π) into the first column, with both in nm.", func(x, _ float64) float64 { return 20 * math.Pi / x }},
}

// otherAxis says that the first column seems to hold something else than 2θ: read so, a phase has each of its strong lines at a peak
// and most of the area of all peaks, while as 2θ the scan is not explained.
func otherAxis(e Evidence) []xrd.Caution {
	if x := e.Document.Explanation; x != nil && (x.Verdict == result.Complete || x.ExplainedShare != nil && *x.ExplainedShare > axisShare) {
		return nil
	}
	lo, hi := e.Scan.Range()
	a, r, share := bestAxis(e.Found.Peaks, e.Facts.Radiation.KAlpha1, lo, hi)
	if r.ID == "" {
		return nil
	}
	return []xrd.Caution{{Code: "axis-doubtful", Severity: xrd.SeverityStop,
		Text: fmt.Sprintf("The first column seems to hold %s and not 2θ: read so, the %d strongest lines of %s all lie at peaks, and its lines hold %.0f %% of the area of all peaks.",
			a.name, axisLines, r.Name, 100*share),
		Remedy: a.remedy + " Then analyse again.", Evidence: map[string]any{"axis": a.name, "phase": r.ID, "share": share}}}
}

// bestAxis returns the axis with which one phase holds most of the area of peaks between two angles, and that phase; no phase when
// none is sure.
func bestAxis(all []peaks.Peak, wavelength, lo, hi float64) (best axis, phase refdata.Record, share float64) {
	found := slices.Clone(all)
	slices.SortStableFunc(found, func(a, b peaks.Peak) int { return cmp.Compare(b.Area, a.Area) })
	found = found[:min(axisPeaks, len(found))]
	if len(found) < axisLines {
		return best, phase, 0
	}
	share = axisShare
	for _, a := range axes {
		at := func(x float64) float64 { return a.spacing(x, wavelength) }
		for _, r := range refdata.Starter() {
			if own, ok := readAs(found, r, at, at(lo), at(hi)); ok && own > share {
				best, phase, share = a, r, own
			}
		}
	}
	return best, phase, share
}

// readAs returns the share of the area of peaks that lies at lines of a phase when angles are read as spacings, and whether each of its
// strongest lines between two spacings is at a peak of its own.
func readAs(found []peaks.Peak, r refdata.Record, at func(x float64) float64, from, to float64) (share float64, ok bool) {
	near := func(d, spacing, within float64) bool { return math.Abs(spacing/d-1) < within }
	lines, last, taken := 0, math.Inf(1), map[int]bool{}
	for _, l := range r.Strong { // strongest first
		d := float64(l.D)
		if d < math.Min(from, to) || d > math.Max(from, to) || math.Abs(d/last-1) < 2*axisWithin {
			continue
		}
		k := slices.IndexFunc(found, func(p peaks.Peak) bool { return near(d, at(p.TwoTheta), axisWithin) })
		if k < 0 || taken[k] || float64(l.Intensity) < axisLeast {
			return 0, false
		}
		last, taken[k] = d, true
		if lines++; lines == axisLines {
			break
		}
	}
	var all, own float64
	for _, p := range found {
		all += p.Area
		if slices.ContainsFunc(r.Strong, func(l refdata.StrongLine) bool { return near(float64(l.D), at(p.TwoTheta), axisOwn) }) {
			own += p.Area
		}
	}
	return own / all, lines == axisLines
}
