package analysis

import (
	"fmt"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// anchor returns the id, as the collection writes it, of the phase that fixes the angle scale; "" for none.
func (r *run) anchor() string {
	id := r.job.Anchor
	if id == "" && r.job.Spike != nil {
		id = r.job.Spike.ID
	}
	if id == "" {
		return ""
	}
	i, err := find(r.job.Collection, id)
	if err != nil {
		return "" // told where the phase is asked for
	}
	return r.job.Collection.Entry(i).ID
}

// anchorCaution says what the angle scale rests on.
func (r *run) anchorCaution() []xrd.Caution {
	fit := r.outcome.Fit
	for _, m := range r.outcome.Members {
		if fit.Setup.Anchor == "" || m.Phase.ID != fit.Setup.Anchor {
			continue
		}
		d, _ := fit.Get(pattern.Displacement, -1)
		return []xrd.Caution{{Code: "angle-anchor", Severity: xrd.Note,
			Text:     fmt.Sprintf("The angle scale rests on the reference cell of %s, which was not fitted; the surface lies %.3f ± %.3f mm below the focusing plane.", m.Phase.Name, d.Value, d.U),
			Remedy:   "The other cells are as good as that reference: use a certified material, at the temperature of its certificate.",
			Evidence: map[string]any{"id": m.Phase.ID, "displacement_mm": d.Value, "displacement_u_mm": d.U}}}
	}
	return nil
}
