package analysis

import (
	"phasetally/xrd/diagnose"
	"phasetally/xrd/result"
)

// Bounds of the search for phases with one spacing: phases whose lines are computed, and those that are told.
const (
	mostComputed   = 400
	mostCandidates = 4
)

// oneSpacing looks for the one spacing of which nearly all peaks of a scan are orders, where no phase explains them, and for phases that
// have it; nil for none.
func (m measured) oneSpacing() *result.OneSpacing {
	if m.cover.Verdict == result.Complete {
		return nil
	}
	spacing, orders, ok := diagnose.OneSpacing(m.found.Peaks, m.job.Radiation.KAlpha1)
	if !ok {
		return nil
	}
	out := &result.OneSpacing{Spacing: spacing, Peaks: len(orders), Of: len(m.found.Peaks), Candidates: []result.Layers{}}
	computed := 0
	for i := range m.job.Collection.Len() {
		e := m.job.Collection.Entry(i)
		if len(out.Candidates) >= mostCandidates || computed >= mostComputed {
			break
		}
		if !m.job.Filter.Allows(e) || e.Preparation != "" && !holds(m.job.Phases, e.ID) {
			continue
		}
		computed++
		p, err := m.job.Collection.Phase(i, m.beam)
		if err != nil {
			continue // a search says so
		}
		if pole, ok := diagnose.LayersOf(p, spacing); ok {
			out.Candidates = append(out.Candidates, result.Layers{ID: p.ID, Name: p.Name, Pole: pole})
		}
	}
	return out
}
