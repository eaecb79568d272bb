package diagnose

import (
	"fmt"
	"math"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// anchor says what the angle scale rests on.
func anchor(e Evidence) []xrd.Caution {
	fit := e.Explanation.Fit
	if q := e.Decided.Anchor; q != nil {
		return []xrd.Caution{{Code: "anchor-doubtful", Severity: xrd.SeverityCaution,
			Text:     fmt.Sprintf("The lines of %s do not fit its reference cell: an edge is off by %+.3f ± %.3f %%. It was not used to fix the angle scale; all cells were fitted.", q.Phase.Name, 100*q.Change, 100*q.U),
			Remedy:   "Check that this is the material whose cell was given, its temperature, and that the phase is the one that was added.",
			Evidence: map[string]any{"id": q.Phase.ID, "relative_change": q.Change, "u": q.U}}}
	}
	for _, m := range e.Explanation.Matches {
		if fit.Setup.Anchor == "" || m.Phase.ID != fit.Setup.Anchor {
			continue
		}
		if m.Evidence == result.Named {
			return []xrd.Caution{{Code: "anchor-doubtful", Severity: xrd.SeverityCaution,
				Text:     fmt.Sprintf("%s, which was to fix the angle scale, is not seen in the scan. Cells rest on the displacement that the other phases suggest.", m.Phase.Name),
				Remedy:   "Name a phase that is there with --anchor, or none.",
				Evidence: map[string]any{"id": m.Phase.ID}}}
		}
		d, _ := fit.Get(pattern.Displacement, -1)
		if ins := e.Facts.Instrument; ins.Geometry == xrd.Transmission {
			return []xrd.Caution{{Code: "angle-anchor", Severity: xrd.SeverityNote,
				Text:     fmt.Sprintf("The angle scale rests on the reference cell of %s, which was not fitted; its zero is %.4f°.", m.Phase.Name, ins.Zero+ins.Shift(0, d.Value)),
				Remedy:   "The other cells are as good as that reference: use a certified material, at the temperature of its certificate.",
				Evidence: map[string]any{"id": m.Phase.ID}}}
		}
		return []xrd.Caution{{Code: "angle-anchor", Severity: xrd.SeverityNote,
			Text:     fmt.Sprintf("The angle scale rests on the reference cell of %s, which was not fitted; the surface lies %.3f ± %.3f mm %s the focusing plane.", m.Phase.Name, math.Abs(d.Value), 2*d.U, side(d.Value)),
			Remedy:   "The other cells are as good as that reference: use a certified material, at the temperature of its certificate.",
			Evidence: map[string]any{"id": m.Phase.ID, "displacement_mm": d.Value, "displacement_u_mm": d.U}}}
	}
	return nil
}
