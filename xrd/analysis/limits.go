package analysis

import (
	"context"
	"math"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
	"phasetally/xrd/result"
)

// couldBe names up to five phases of the collection, whatever their elements, that have a strong line at a peak, ranked as
// identify.Explain ranks them.
func couldBe(job Job, p peaks.Peak) []string {
	const (
		near = 0.004 // relative difference of spacing: cell and displacement (common practice)
		most = 5
	)
	tolerance := 2 * xrd.Degrees(near*math.Tan(xrd.Radians(p.TwoTheta/2))) // 2 Δd/d tan θ
	out := []string{}
	for _, s := range identify.Explain(job.Collection, job.Filter, p.TwoTheta, tolerance, job.Radiation.KAlpha1) {
		if len(out) < most {
			out = append(out, s.ID)
		}
	}
	return out
}

// limits lists the named phases that were not found and the watched ones, with what would have been found; of the latter,
// those that seem to be there come second.
func (m measured) limits() (absent []result.NotDetected, seen []diagnose.WatchedSeen) {
	absent = []result.NotDetected{}
	for i, match := range m.identified.Matches {
		if m.Roles[i] == quantify.Absent {
			absent = append(absent, result.NotDetected{ID: match.Phase.ID, Name: match.Phase.Name, DetectionLimit: result.Number(m.Answer.Fractions[i].Limit), Asked: true})
		}
	}
	if len(m.Roles) == 0 || len(m.Answer.Withheld) > 0 {
		return absent, nil
	}
	var others []quantify.Watched
	first := len(absent)
	for i := range m.job.Collection.Len() {
		e := m.job.Collection.Entry(i)
		dropped := holds(m.job.dropped, e.ID)
		watched := dropped || holds(m.job.Watch, e.ID)
		if m.matchOf(e.ID) >= 0 || !watched && (e.Preparation == "" || len(m.job.Phases) > 0) {
			continue
		}
		p, err := m.job.Collection.Phase(i, m.beam)
		if err != nil || !dropped && m.foundAs(p) {
			continue
		}
		if watched && !dropped && len(m.job.Phases) > 0 { // a search, or a fit that had it, would have found it
			if z := significanceBeside(m.identified.Fit, p); z >= m.identified.Threshold {
				seen = append(seen, diagnose.WatchedSeen{Phase: p, Significance: z})
				continue
			}
		}
		others = append(others, quantify.Watched{Phase: p, Grain: grainOf(m.job.Grains, e.ID)})
		absent = append(absent, result.NotDetected{ID: e.ID, Name: e.Name, Asked: watched})
	}
	for k, limit := range quantify.DetectionLimits(m.input, others) {
		absent[first+k].DetectionLimit = result.Number(limit)
	}
	return absent, seen
}

// foundAs reports whether a phase was found under another entry of the reference data: the same elements, and the same pattern.
func (m measured) foundAs(p refdata.Phase) bool {
	set := m.identified.Fit.Setup
	set.Start = pattern.Start{}
	var curve []float64
	for i, match := range m.identified.Matches {
		if m.Roles[i] == quantify.Absent || elementsOf(match.Phase) != elementsOf(p) {
			continue
		}
		if curve == nil {
			curve = pattern.Calculate(set, p, 1, 0, 0)
		}
		if pattern.Likeness(curve, pattern.Calculate(set, match.Phase, 1, 0, 0), nil) > sameCosine {
			return true
		}
	}
	return false
}

func elementsOf(p refdata.Phase) (set refdata.ElementSet) {
	for _, e := range p.Composition {
		if el, ok := element.Lookup(e.Symbol); ok {
			set = set.With(el.Z)
		}
	}
	return set
}

// significanceBeside returns the significance that the pattern of a phase of its reference cell has beside those of the fit.
func significanceBeside(fit *pattern.Fit, p refdata.Phase) float64 {
	set := fit.Setup
	set.Start.Values = fit.Values()
	d, _ := fit.Get(pattern.Displacement, -1)
	z, err := fit.SignificanceBeside(context.Background(), pattern.Calculate(set, p, 1, d.Value, 0), fit.Variance) // too short to be stopped
	if err != nil {
		return 0
	}
	return z
}
