package analysis

import (
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
)

// ownAbove is the weight fraction, per cent of everything found, above which a phase of the preparation watch-list
// counts as the specimen's own.
const ownAbove = 5.0

// share decides which phases are the specimen's and computes the fractions.
func (r *run) share() {
	members := r.outcome.Members
	if len(members) == 0 {
		return
	}
	fit := r.outcome.Fit
	in := quantify.Input{Fit: fit, Roles: make([]quantify.Role, len(members)), Threshold: r.outcome.Threshold, Unexplained: r.unexplainedShare(), Grain: r.grains(), External: r.constant, Optics: r.opticsShift}
	r.orientation()
	in.Refused = make([]bool, len(members))
	for i := range members {
		in.Refused[i] = r.planes[i] != nil
		if r.spiked(members[i].Phase.ID) && members[i].Evidence != result.Named {
			in.Roles[i] = quantify.Standard
			in.Spike = &quantify.Spike{Phase: i, WeightPercent: r.job.Spike.WeightPercent,
				Crystallinity: r.job.Spike.Crystallinity, CrystallinityU: r.job.Spike.CrystallinityU}
		}
	}
	for i, m := range members {
		if m.Evidence == result.Named && in.Roles[i] == quantify.Specimen {
			in.Roles[i] = quantify.Absent
		}
	}
	r.answer = quantify.Run(in)
	first := slices.Clone(in.Roles)
	for i, m := range members {
		if in.Roles[i] == quantify.Specimen && m.Phase.Preparation != "" && !r.owns(m) && !(r.answer.Fractions[i].Weight.Percent > ownAbove) {
			in.Roles[i] = quantify.Preparation
		}
	}
	if !slices.Contains(in.Roles, quantify.Specimen) { // nothing else is there: then it is what was scanned
		for i, role := range in.Roles {
			if role == quantify.Preparation {
				in.Roles[i] = quantify.Specimen
			}
		}
	}
	if !slices.Equal(first, in.Roles) {
		r.answer = quantify.Run(in)
	}
	r.input, r.roles = in, in.Roles
}

// owns reports whether the user claimed a phase of the watch-list: by name, by its elements or in a library of theirs.
func (r *run) owns(m identify.Member) bool {
	id := strings.ToLower(m.Phase.ID)
	named := m.Required && (!r.job.searched || slices.ContainsFunc(r.job.Filter.Require, func(s string) bool { return strings.EqualFold(s, id) }))
	if named || r.job.Filter.Own[id] {
		return true
	}
	given := r.job.Filter.Elements
	i, err := find(r.job.Collection, m.Phase.ID) // indices of members are those of the phases that were asked for
	return err == nil && given != (refdata.ElementSet{}) && r.job.Collection.Entry(i).Elements.Within(given)
}

// unexplainedShare returns the share of the net intensity in peaks that no phase explains.
func (r *run) unexplainedShare() float64 {
	fit := r.outcome.Fit
	var net float64
	for i, y := range fit.Fitted {
		if i > 0 {
			net += math.Max(0, y-fit.Background[i]) * (fit.Setup.TwoTheta[i] - fit.Setup.TwoTheta[i-1])
		}
	}
	var left float64
	for _, u := range r.leftovers() {
		left += u.area
	}
	if !(net+left > 0) {
		return 0
	}
	return left / (net + left)
}
