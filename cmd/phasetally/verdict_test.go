package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// What a script takes for done is what needs nobody to look: a minor phase may be tentative, the main one may not.
func TestVerdict(t *testing.T) {
	share := func(v float64) *float64 { return &v }
	sound := func() result.Document {
		return result.Document{
			Explanation: &result.Explanation{Verdict: result.Complete}, Fit: &result.Fit{Status: result.Converged},
			Phases: []result.Phase{{Evidence: result.Established, WeightPercent: share(80)}, {Evidence: result.Tentative, WeightPercent: share(20)},
				{Evidence: result.Tentative}},
		}
	}
	assert.NoError(t, verdict(sound(), analysis.Everything))
	for want, change := range map[string]func(*result.Document){
		"no phase found":         func(d *result.Document) { d.Phases = nil },
		"only tentative":         func(d *result.Document) { *d.Phases[1].WeightPercent = 81 },
		"explained only in part": func(d *result.Document) { d.Explanation.Verdict = result.Partial },
		"did not converge":       func(d *result.Document) { d.Fit.Status = "stuck" },
		"with this radiation":    func(d *result.Document) { d.Cautions = []xrd.Caution{{Code: "radiation-doubtful"}} },
		"must not be used as it is": func(d *result.Document) {
			d.Cautions = []xrd.Caution{{Code: "coarse-grain", Severity: xrd.SeverityStop}}
		},
	} {
		d := sound()
		change(&d)
		assert.ErrorContains(t, verdict(d, analysis.Everything), want)
	}
}
