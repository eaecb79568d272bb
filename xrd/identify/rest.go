package identify

import (
	"math"
	"slices"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// A Rest is a phase that would explain peaks that an explanation leaves.
type Rest struct {
	Index      int      // in the collection
	ID, Name   string   // of the reference, and of the phase
	Peaks, Of  int      // peaks that it would explain, of those that are left
	NotAllowed []string // symbols of its elements that the filter does not allow; empty when it was tried and did not hold
}

// leftOver returns the peaks that are left and ask for another phase.
func (s *search) leftOver() []LeftPeak {
	return slices.DeleteFunc(slices.Clone(s.coverage.Left), func(l LeftPeak) bool { return hasLineAt(s.matches, s.found[l.Peak]) })
}

// rest looks through the whole collection, without the filter, for what would explain most of the peaks that are left.
func (s *search) rest(left []LeftPeak) *Rest {
	if len(left) < policy.Coverage.RestPeaks {
		return nil
	}
	places := s.peakPlaces(left)
	var best *Rest
	score := 0.0
	for i := range s.job.Collection.Len() {
		e := s.job.Collection.Entry(i)
		if s.has(i) {
			continue
		}
		entry := screen.Entry{Index: i, SolidSolution: e.SolidSolution, Strong: e.Strong}
		c, got := s.bestPlace(&entry, left, places)
		if got <= score {
			continue
		}
		if n := places.count(e.Strong, c.Stretch); n >= policy.Coverage.RestPeaks && float64(n) >= policy.Coverage.RestShare*float64(len(left)) {
			score = got
			best = &Rest{Index: i, ID: e.ID, Name: e.Name, Peaks: n, Of: len(left), NotAllowed: s.job.Filter.notAllowed(e)}
		}
	}
	return best
}

// hasLineAt reports whether a match has a line that should make a good part of a peak: what lacks there is its own, as texture and few grains
// have it, and asks for no other phase.
func hasLineAt(matches []Match, p peaks.Peak) bool {
	return slices.ContainsFunc(matches, func(m Match) bool {
		return slices.ContainsFunc(m.Lines, func(l pattern.LineFit) bool {
			return l.Covered && math.Abs(l.TwoTheta-p.TwoTheta) <= policy.Lines.OnPeak*math.Max(p.FWHM, l.FWHM) && l.Fitted >= policy.Merit.SameShare*p.Area
		})
	})
}

// count returns how many of the peaks that are left lie where a phase has lines.
func (p peakPlaces) count(lines []refdata.StrongLine, stretch float64) int {
	return len(p.met(lines, stretch))
}

// met returns the peaks that are left and lie where a phase has lines, by their places in the list of peaks.
func (p peakPlaces) met(lines []refdata.StrongLine, stretch float64) map[int]bool {
	met := map[int]bool{}
	for _, l := range lines {
		if at, ok := p.angle(float64(l.D) * (1 + stretch)); ok {
			if k := p.near(at); k >= 0 && p.left[k] > 0 {
				met[k] = true
			}
		}
	}
	return met
}

// notAllowed returns the symbols of the elements of a phase that the filter does not allow.
func (f Filter) notAllowed(e refdata.Entry) (symbols []string) {
	if f.Elements == (refdata.ElementSet{}) {
		return nil
	}
	for z := 1; z <= 118; z++ {
		el, ok := element.ByZ(z)
		if ok && e.Elements.Has(z) && !f.inside(refdata.Entry{Elements: refdata.ElementSet{}.With(z)}) {
			symbols = append(symbols, el.Symbol)
		}
	}
	return symbols
}
