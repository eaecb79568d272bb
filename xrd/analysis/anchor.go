package analysis

import (
	"context"
	"math"

	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// A cell of the anchor that the scan moves by more than both limits is not the reference cell. The smaller of zero errors
// (0.01°) move cells by 1e-4 to 3e-4 (common practice).
const (
	falseCell   = 5e-4
	falseSigmas = 4.0
)

// falseAnchor fits once more with the cell of the anchor free, and returns what is wrong with it; what is known already when
// the fit has no anchor, nil when it holds. A standard of another cell than its reference would fix a wrong scale for all
// others; its own lines tell, since displacement goes as cos θ and a cell as tan θ.
func falseAnchor(ctx context.Context, identified *identify.Explanation, known *diagnose.FalseAnchor) (*diagnose.FalseAnchor, error) {
	fit := identified.Fit
	anchor := -1
	for i, p := range fit.Setup.Phases {
		if p.ID == fit.Setup.Anchor && fit.Scales[i] > 0 && identified.Matches[i].Evidence != result.Named {
			anchor = i
		}
	}
	if anchor < 0 {
		return known, nil
	}
	set := fit.Setup
	set.Anchor = ""
	free, err := pattern.Run(ctx, restart(fit, set, pattern.Guess), pattern.Full)
	if err != nil {
		return nil, err
	}
	for _, q := range free.Parameters {
		if q.Phase == anchor && q.Kind >= pattern.CellA && q.Kind <= pattern.CellC && math.Abs(q.Value) > math.Max(falseCell, falseSigmas*q.U) {
			return &diagnose.FalseAnchor{Phase: fit.Setup.Phases[anchor], Change: q.Value, U: q.U}, nil
		}
	}
	return nil, nil
}
