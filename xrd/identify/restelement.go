package identify

import (
	"cmp"
	"slices"

	"phasetally/xrd/screen"
)

// A RestElement is an element that was not stated and whose phases, two or more, would explain peaks that an explanation leaves.
type RestElement struct {
	Symbol    string   // of the element
	Phases    []string // names of the phases, what explains most first
	Peaks, Of int      // peaks that they would explain, of those that are left
}

// A leftCandidate is a phase that would explain peaks that are left.
type leftCandidate struct {
	entry screen.Entry
	name  string
	score float64 // as of peakPlaces
}

// restElement looks for the one element beyond those that were stated whose phases would together explain most of the peaks that are left, and
// more of them than a number that one phase explains; nil when there is none, or all elements were allowed.
func (s *search) restElement(left []LeftPeak, one int) (best *RestElement) {
	if !s.elementsGiven() || len(left) < policy.Coverage.RestPeaks {
		return nil
	}
	of := map[string][]leftCandidate{}
	places := s.peakPlaces(left)
	for i := range s.job.Collection.Len() {
		e := s.job.Collection.Entry(i)
		beyond := s.job.Filter.notAllowed(e)
		if len(beyond) != 1 || s.has(i) {
			continue
		}
		c := leftCandidate{screen.Entry{Index: i, SolidSolution: e.SolidSolution, Strong: e.Strong}, e.Name, 0}
		if _, c.score = s.bestPlace(&c.entry, left, places); c.score > 0 {
			of[beyond[0]] = append(of[beyond[0]], c)
		}
	}
	for symbol, list := range of {
		slices.SortFunc(list, func(a, b leftCandidate) int {
			return cmp.Or(cmp.Compare(b.score, a.score), a.entry.Index-b.entry.Index)
		})
		r := s.together(list[:min(len(list), policy.Coverage.RestTried)], left)
		r.Symbol = symbol
		enough := len(r.Phases) > 1 && r.Peaks > one && float64(r.Peaks) >= policy.Coverage.RestShare*float64(r.Of)
		if enough && (best == nil || r.Peaks > best.Peaks || r.Peaks == best.Peaks && r.Symbol < best.Symbol) {
			best = r
		}
	}
	return best
}

// together takes phases for what is left, one after the other, each the one that explains most of what those before it leave.
func (s *search) together(list []leftCandidate, left []LeftPeak) *RestElement {
	r := &RestElement{Of: len(left)}
	left = slices.Clone(left)
	for len(r.Phases) < policy.Coverage.RestPhases {
		places := s.peakPlaces(left)
		next, most := -1, 0.0
		var met map[int]bool
		for k, c := range list {
			at, score := s.bestPlace(&c.entry, left, places)
			if score <= most {
				continue
			}
			if m := places.met(c.entry.Strong, at.Stretch); len(m) >= policy.Coverage.RestPeaks {
				next, most, met = k, score, m
			}
		}
		if next < 0 {
			break
		}
		r.Phases = append(r.Phases, list[next].name)
		r.Peaks += len(met)
		left = slices.DeleteFunc(left, func(l LeftPeak) bool { return met[l.Peak] })
	}
	return r
}
