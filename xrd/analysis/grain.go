package analysis

import (
	"fmt"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// A Grain is the size of the grains of a phase of a powder.
type Grain struct {
	ID       string  // of the phase; empty: of every phase that no other entry names
	Diameter float64 // µm
}

// grains returns the given diameter for every member, nil when none is given.
func (r *run) grains() []float64 {
	if len(r.job.Grains) == 0 {
		return nil
	}
	out := make([]float64, len(r.outcome.Members))
	for i, m := range r.outcome.Members {
		for _, g := range r.job.Grains {
			if strings.EqualFold(g.ID, m.Phase.ID) || g.ID == "" && out[i] == 0 {
				out[i] = g.Diameter
			}
		}
	}
	return out
}

// grainCautions warns of grains that are too large for a correction.
func (r *run) grainCautions() []xrd.Caution {
	var out []xrd.Caution
	for i, d := range r.grains() {
		p := r.outcome.Members[i].Phase
		if quantify.ClassOfGrain(p.MuLinear(), d) != quantify.HugeGrains {
			continue
		}
		out = append(out, xrd.Caution{Code: "microabsorption", Severity: xrd.Warn,
			Text:   fmt.Sprintf("Grains of %s are so large (μD = %.1f) that the correction for absorption in them no longer holds.", p.Name, p.MuLinear()*d*1e-4),
			Remedy: "Grind finer, or use image analysis.", Evidence: map[string]any{"phase": p.ID, "mu_d": p.MuLinear() * d * 1e-4}})
	}
	return out
}
