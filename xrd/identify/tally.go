package identify

import (
	"math"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// tally counts the evidence of a phase's lines.
type tally struct {
	own, seen, missing int       // lines
	pieces             int       // separate peaks that the seen lines make
	expected, absent   float64   // intensity of own lines that can be tested, and of those missing
	strongestSeen      float64   // significance of the clearest own line
	short              float64   // intensity that own and shared lines lack beyond chance
	tested             float64   // intensity of own and shared lines that can be tested
	diffuse            bool      // no line of its own is sharp
	shared             []float64 // significances of the lines under a stronger phase that are seen
}

func count(lines []pattern.LineFit, found []peaks.Peak) tally {
	var t tally
	var seen []pattern.LineFit
	for _, l := range lines {
		if !l.Covered || l.Clear < policy.Lines.Shared || !(l.MisfitU > 0) {
			continue
		}
		z := l.Observed / l.MisfitU
		there, testable := l.Seen(), l.Tested()
		if testable {
			t.tested += l.Fitted
			t.short += math.Max(0, l.Fitted-l.Observed-pattern.SeenSigma*l.MisfitU)
		}
		if !l.Own() {
			if there {
				t.shared = append(t.shared, z)
			}
			continue
		}
		t.own++
		if there {
			t.seen++
			seen = append(seen, l)
			t.strongestSeen = math.Max(t.strongestSeen, z)
		}
		if !testable {
			continue
		}
		t.expected += l.Fitted
		if l.Missing() {
			t.missing++
			t.absent += l.Fitted
		}
	}
	t.pieces = pieces(seen, found)
	return t
}

// tooManyMissing reports whether more lines lack than texture or neighbours hide.
func (t tally) tooManyMissing() bool {
	return float64(t.missing) > math.Max(1, policy.Evidence.EstablishedAbsent*float64(t.own))
}

// tooShort reports whether more intensity lacks than in a phase that is more than tentative.
func (t tally) tooShort() bool { return t.short > policy.Lines.MostShort*t.tested }

// pieces returns how many pieces of evidence lines are, in ascending angle: those that make one observed peak together are one,
// and those on the flank of a peak that they do not make are none. Lines too weak to be found as peaks count where they stand
// apart from each other.
func pieces(lines []pattern.LineFit, found []peaks.Peak) int {
	n, last := 0, math.Inf(-1)
	made := map[int]bool{}
	for _, l := range lines {
		k := nearestPeak(l, found)
		switch {
		case k >= 0:
			if !made[k] {
				made[k] = true
				n++
			}
			last = l.TwoTheta
		case flank(l, found) >= policy.Lines.OnFlank:
		case !(l.TwoTheta-last < policy.Lines.OnPeak*l.FWHM):
			n++
			last = l.TwoTheta
		}
	}
	return n
}

// nearestPeak returns the number of the peak that a line makes or takes part in, -1 for none.
func nearestPeak(l pattern.LineFit, found []peaks.Peak) int {
	best, least := -1, 0.0
	for k, p := range found {
		d := math.Abs(p.TwoTheta-l.TwoTheta) / math.Max(p.FWHM, l.FWHM)
		if p.Kind == peaks.KAlpha && d <= policy.Lines.OnPeak && (best < 0 || d < least) {
			best, least = k, d
		}
	}
	return best
}

// flank returns the height of the found peaks at the place of a line over that of the line.
func flank(l pattern.LineFit, found []peaks.Peak) float64 {
	if !(l.FWHM > 0) {
		return 0
	}
	var sum float64
	for _, p := range found {
		if p.FWHM > 0 {
			sum += p.Area * xrd.PseudoVoigt(l.TwoTheta-p.TwoTheta, p.FWHM, p.Eta)
		}
	}
	return sum / (l.Observed * xrd.PseudoVoigt(0, l.FWHM, 0.5))
}
