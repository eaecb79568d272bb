package analysis

import (
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// A Start is what the fit of one scan tells that of another like it: parameters and texture axes.
type Start struct {
	radiation xrd.Radiation
	values    map[pattern.Key]float64
	poles     map[string][][3]int // by id of the phase
}

// firmStart is the significance of a phase from which its cell and widths are a start for another scan: what a fit does
// with a phase that is hardly there may be anything.
const firmStart = 20.0

// startOf returns what the fit of a scan tells others, nil when it has not come to an end.
func startOf(radiation xrd.Radiation, identified *identify.Explanation) *Start {
	if identified == nil || identified.Fit == nil || identified.Fit.Status != leastsq.Converged {
		return nil
	}
	fit := identified.Fit
	s := &Start{radiation: radiation, values: fit.Values(), poles: map[string][][3]int{}}
	for i, m := range identified.Matches {
		if m.Significance >= firmStart {
			if fit.Setup.Poles != nil {
				s.poles[m.Phase.ID] = fit.Setup.Poles[i]
			}
			continue
		}
		for k := range s.values {
			if k.ID == m.Phase.ID {
				delete(s.values, k)
			}
		}
	}
	return s
}

// apply lets the fit of a setup begin there; nil, and the fit of a scan with another tube, change nothing.
func (s *Start) apply(set *pattern.Setup) {
	if s == nil || s.radiation != set.Radiation {
		return
	}
	set.Start = pattern.Start{Values: s.values, From: pattern.LikeFit}
	set.Poles = make([][][3]int, len(set.Phases))
	for i, p := range set.Phases {
		set.Poles[i] = s.poles[p.ID]
	}
}
