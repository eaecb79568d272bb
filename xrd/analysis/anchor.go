package analysis

import (
	"context"
	"fmt"
	"math"
	"phasetally/xrd/result"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// anchor returns the id, as the collection writes it, of the phase that fixes the angle scale; "" for none.
func (r *run) anchor() string {
	if r.falseAnchor != nil {
		return ""
	}
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

// A cell of the anchor that the scan moves by more than both limits is not the reference cell. The smaller of zero errors
// (0.01°) move cells by 1e-4 to 3e-4 (common practice).
const (
	falseCell   = 5e-4
	falseSigmas = 4.0
)

// falseAnchor is an anchor of another cell than its reference: the relative change of an edge with its uncertainty.
type falseAnchor struct {
	phase     refdata.Phase
	change, u float64
}

// doubtAnchor fits once more with the cell of the anchor free. A standard of another cell than its reference would fix a
// wrong scale for all others; its own lines tell, since displacement goes as cos θ and a cell as tan θ. Then everything
// is explained anew without an anchor.
func (r *run) doubtAnchor(ctx context.Context) error {
	fit := r.outcome.Fit
	anchor := -1
	for i, p := range fit.Setup.Phases {
		if p.ID == fit.Setup.Anchor && fit.Scales[i] > 0 && r.outcome.Members[i].Evidence != result.Named {
			anchor = i
		}
	}
	if anchor < 0 {
		return nil
	}
	s := fit.Setup
	s.Anchor = ""
	s.Start = pattern.Start{Values: fit.Values(), Kappa: fit.Kappa, Knots: fit.Knots}
	g, err := pattern.Run(ctx, s, pattern.Full)
	if err != nil {
		return err
	}
	for _, q := range g.Parameters {
		if q.Phase == anchor && q.Kind >= pattern.CellA && q.Kind <= pattern.CellC && math.Abs(q.Value) > math.Max(falseCell, falseSigmas*q.U) {
			r.falseAnchor = &falseAnchor{fit.Setup.Phases[anchor], q.Value, q.U}
			return r.explain(ctx)
		}
	}
	return nil
}

// anchorCaution says what the angle scale rests on.
func (r *run) anchorCaution() []xrd.Caution {
	fit := r.outcome.Fit
	if q := r.falseAnchor; q != nil {
		return []xrd.Caution{{Code: "anchor-doubtful", Severity: xrd.Warn,
			Text:     fmt.Sprintf("The lines of %s do not fit its reference cell: an edge is off by %+.3f ± %.3f %%. It was not used to fix the angle scale; all cells were fitted.", q.phase.Name, 100*q.change, 100*q.u),
			Remedy:   "Check that this is the material whose cell was given, its temperature, and that the phase is the one that was added.",
			Evidence: map[string]any{"id": q.phase.ID, "relative_change": q.change, "u": q.u}}}
	}
	for _, m := range r.outcome.Members {
		if fit.Setup.Anchor == "" || m.Phase.ID != fit.Setup.Anchor {
			continue
		}
		if m.Evidence == result.Named {
			return []xrd.Caution{{Code: "anchor-doubtful", Severity: xrd.Warn,
				Text:     fmt.Sprintf("%s, which was to fix the angle scale, is not seen in the scan. Cells rest on the displacement that the other phases suggest.", m.Phase.Name),
				Remedy:   "Name a phase that is there with --anchor, or none.",
				Evidence: map[string]any{"id": m.Phase.ID}}}
		}
		d, _ := fit.Get(pattern.Displacement, -1)
		return []xrd.Caution{{Code: "angle-anchor", Severity: xrd.Note,
			Text:     fmt.Sprintf("The angle scale rests on the reference cell of %s, which was not fitted; the surface lies %.3f ± %.3f mm below the focusing plane.", m.Phase.Name, d.Value, d.U),
			Remedy:   "The other cells are as good as that reference: use a certified material, at the temperature of its certificate.",
			Evidence: map[string]any{"id": m.Phase.ID, "displacement_mm": d.Value, "displacement_u_mm": d.U}}}
	}
	return nil
}
