package analysis

import (
	"fmt"
	"math"
	"phasetally/xrd/result"

	"phasetally/xrd"
	"phasetally/xrd/identify"
)

// searchCautions tells what stood in the way of the search.
func (r *run) searchCautions() []xrd.Caution {
	var out []xrd.Caution
	if r.outcome == nil || len(r.job.Phases) > 0 {
		return nil
	}
	if b := r.outcome.Radiation; b != nil {
		out = append(out, xrd.Caution{Code: "radiation-doubtful", Severity: xrd.Warn,
			Text:   fmt.Sprintf("Little is explained with %s Kα; %s Kα explains %s.", r.job.Radiation.Name, b.Name, times(b.Gain)),
			Remedy: "Check the tube and give it with --radiation " + b.Name + ".", Evidence: map[string]any{"radiation": b.Name, "gain_ratio": b.Gain}})
	}
	if n := r.job.Collection.Len(); r.outcome.Tried == r.outcome.Watched && len(r.outcome.Members) == 0 {
		out = append(out, xrd.Caution{Code: "no-candidates", Severity: xrd.Warn,
			Text:   fmt.Sprintf("None of the %d phases of the reference data has only the elements that were allowed; %s of the preparation watch-list tried.", n, plural(r.outcome.Watched, "phase was", "phases were")),
			Remedy: "Give more elements with --elements, leave --strict-elements out, or add reference data with --library.", Evidence: map[string]any{"phases": n, "tried": r.outcome.Tried}})
	}
	return out
}

func times(ratio float64) string {
	if math.IsInf(ratio, 0) || ratio > 100 {
		return "more than 100 times as much"
	}
	return fmt.Sprintf("%.1f times as much", ratio)
}

// merit adds the figures of merit of a phase's lines to its reasons.
func (r *run) merit(m identify.Member) []result.Reason {
	f := identify.MeritOf(m.Lines, r.found.Peaks, r.job.Radiation.KAlpha1)
	if f.FLines == 0 {
		return nil
	}
	return []result.Reason{
		{Code: "merit-m", Text: fmt.Sprintf("de Wolff's figure of merit M(%d) = %.0f", f.MLines, f.M), Value: number(f.M)},
		{Code: "merit-f", Text: fmt.Sprintf("Smith and Snyder's figure of merit F(%d) = %.0f (%.4f°, %d)", f.FLines, f.F, f.Delta, f.Possible), Value: number(f.F)},
	}
}
