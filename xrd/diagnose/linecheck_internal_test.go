package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
)

// TestMethodsDisagree: only a difference beyond both uncertainties is told, with both numbers.
func TestMethodsDisagree(t *testing.T) {
	e := Evidence{Explanation: &identify.Explanation{Matches: []identify.Match{{Phase: refdata.Phase{Name: "copper"}}, {Phase: refdata.Phase{Name: "grit"}}}},
		Amounts: Amounts{Roles: []quantify.Role{quantify.Specimen, quantify.Preparation},
			Answer: quantify.Answer{Fractions: []quantify.Fraction{{Weight: quantify.Value{Percent: 70}}, {}}},
			Checks: []quantify.LineCheck{{Lines: 4, Multi: quantify.Value{Percent: 61.2}, Sigmas: -2.7}, {Lines: 4, Sigmas: 9}}}}
	assert.Empty(t, linesDisagree(e), "2.7 standard uncertainties, and grit has no fraction")
	e.Amounts.Checks[0].Sigmas = -3.1
	c := linesDisagree(e)
	require.Len(t, c, 1)
	assert.Equal(t, xrd.SeverityCaution, c[0].Severity)
	assert.Contains(t, c[0].Text, "copper 61.2 wt% by 4 free lines, 70.0 by the whole pattern")
	assert.InDelta(t, 3.1, c[0].Evidence["worst_sigmas"], 1e-12)
}
