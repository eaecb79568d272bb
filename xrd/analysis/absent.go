package analysis

import (
	"slices"
	"strings"

	"phasetally/xrd/identify"
	"phasetally/xrd/result"
)

// A phase that is named and not there changes nothing in what is said of the others: the scan is fitted again without it, and what of
// it would have been seen is told as for a phase that is watched. Otherwise its curve would take up a little of their misfit.

// unseen returns the ids of the phases that were named and are not there: none when nothing else is, and neither a standard nor an
// anchor, of which it is told that they are missing. Phases that a series has named stay in the fits of all its scans.
func (m measured) unseen() []string {
	if len(m.job.Phases) == 0 || m.job.Searched || m.job.keepUnseen || m.identified == nil {
		return nil
	}
	return m.notThere()
}

// notThere is unseen whatever the job says. Where nothing is explained, as with a wrong tube, or the scan does
// not determine the fit, nothing is known to be absent.
func (m measured) notThere() (ids []string) {
	if fit := m.identified.Fit; m.cover.Verdict == result.None || fit == nil || len(fit.Undetermined) > 0 {
		return nil
	}
	there := 0
	for _, match := range m.identified.Matches {
		switch {
		case match.Evidence != result.Named:
			there++
		case !m.job.spiked(match.Phase.ID) && match.Phase.ID != m.job.anchor():
			ids = append(ids, match.Phase.ID)
		}
	}
	if there == 0 {
		return nil
	}
	return ids
}

// without returns a job that names phases no more but tells how little of them would be seen, and whether it names fewer.
func (j Job) without(ids []string) (Job, bool) {
	if len(ids) == 0 {
		return j, false
	}
	before := len(j.Phases)
	j.Phases = slices.DeleteFunc(slices.Clone(j.Phases), func(id string) bool { return holds(ids, id) })
	j.dropped = slices.Concat(j.dropped, ids)
	return j, len(j.Phases) < before
}

// matchOf returns the number of the match of an id, -1 for none.
func (e explanation) matchOf(id string) int {
	return slices.IndexFunc(e.identified.Matches, func(m identify.Match) bool { return strings.EqualFold(m.Phase.ID, id) })
}
