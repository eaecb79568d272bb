package diagnose

import (
	"fmt"
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/identify"
)

// What an amorphous part must show. Its atoms scatter as many photons as those of a crystal, spread over haloes instead of lines: the first
// halo holds about half of what corundum of the same mass has in lines, whose summed area is some five times that of its line 113. Origin: reasoning; glasses and
// resins that another program simulates rise by 1.6 to 2.3 times as much, amounts by a wrong standard by less than a hundredth.
const (
	haloArea = 2.0  // of the first halo over the area of line 113 of as much corundum, mass for mass
	haloFWHM = 8.0  // degrees with Cu Kα (common practice: 6° to 12°)
	haloSeen = 0.25 // of the expected height must be seen: resins scatter half as much, and a background takes up some of it
	haloSure = 10.0 // wt% of the lower end of an amorphous part that is asked for its halo
	haloFrom = 15.0 // degrees with Cu Kα at which a scan must begin to hold the first halo
	haloTo   = 35.0 // and to which it must go
)

// A MissingHump is what an amorphous part should raise and does not.
type MissingHump struct {
	Percent        float64 // wt% that a standard tells of
	Expected, Seen float64 // height in the background, counts
}

// NoHump returns the amorphous part by a standard whose halo is not there; nil for none. Then a weighing, the standard or its crystallinity is
// wrong, or the specimen holds the standard's phase itself.
func NoHump(e Evidence) *MissingHump {
	a, spike := e.Amounts.Answer.Amorphous, e.Facts.Spike
	if a == nil || spike == nil || !(a.Lo > haloSure) || e.Explanation.Fit.Setup.Blank != nil {
		return nil
	}
	expected := e.expectedHalo(a.Percent * (1 - spike.WeightPercent/100))
	seen, covered := e.largestRise()
	if !covered || !(seen < haloSeen*expected) {
		return nil
	}
	return &MissingHump{Percent: a.Percent, Expected: expected, Seen: seen}
}

// haloMissing says that the background contradicts the standard.
func haloMissing(e Evidence) []xrd.Caution {
	h := e.Amounts.NoHump
	if h == nil {
		return nil
	}
	return []xrd.Caution{{Code: "halo-missing", Severity: xrd.SeverityStop,
		Text:     fmt.Sprintf("By the standard %.0f wt%% are amorphous or unidentified. So much amorphous material would raise a broad hump of about %.2g in the background; the background rises by %.2g at most. No absolute fractions and no amorphous part are given.", h.Percent, h.Expected, h.Seen),
		Remedy:   "Check the weighing and that --spike names what was added and how much of it; look whether the specimen holds that phase itself, and mind grains that absorb much more or less than the standard.",
		Evidence: map[string]any{"amorphous_weight_percent": h.Percent, "expected_height": h.Expected, "height": h.Seen}}}
}

// expectedHalo returns the height of the first halo of an amorphous part, wt% of the scanned powder; 0 where the standard's strongest line
// is not covered.
func (e Evidence) expectedHalo(percent float64) float64 {
	i := slices.IndexFunc(e.Explanation.Matches, func(m identify.Match) bool { return m.Phase.ID == e.Facts.Spike.ID })
	if i < 0 {
		return 0
	}
	m := e.Explanation.Matches[i]
	strongest := 0.0
	for _, l := range m.Lines {
		if l.Covered && l.Line.Intensity > 0 {
			strongest = math.Max(strongest, l.Expected)
		}
	}
	unit := strongest / (m.Phase.RIR.Value * e.Facts.Spike.WeightPercent) // area of line 113 of 1 wt% of corundum
	if !(unit > 0) || math.IsInf(unit, 0) {
		return 0
	}
	width := haloFWHM * xrd.Broadness(e.Facts.Radiation.KAlpha1)
	return haloArea * percent * unit / (math.Sqrt(math.Pi/(4*math.Ln2)) * width)
}

// largestRise returns how high the background stands over its lower convex hull at most, where haloes lie; false where the scan does not
// cover the place of the first one.
func (e Evidence) largestRise() (height float64, covered bool) {
	fit := e.Explanation.Fit
	x := fit.Setup.TwoTheta
	broad := xrd.Broadness(e.Facts.Radiation.KAlpha1)
	if len(x) == 0 || x[0] > haloFrom*broad || x[len(x)-1] < haloTo*broad {
		return 0, false
	}
	hull := peaks.LowerHull(x, fit.Background)
	for i := range x {
		height = math.Max(height, fit.Background[i]-hull[i])
	}
	return height, true
}
