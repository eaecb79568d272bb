package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/identify"
	"phasetally/xrd/quantify"
)

// TestLayeredCaution: a layer needs a phase that rises and another that falls, both beyond 3 standard uncertainties
// (acceptance situation 17 of PRACTICE).
func TestLayeredCaution(t *testing.T) {
	e := Evidence{Explanation: &identify.Explanation{Matches: []identify.Match{{Phase: refdata.Phase{Name: "Nickel"}}, {Phase: refdata.Phase{Name: "Bunsenite"}}}}}
	at := func(nickel, oxide quantify.Slope) int {
		return len(layered(e, quantify.Trends{Phases: []quantify.Slope{nickel, oxide}}))
	}
	c := layered(e, quantify.Trends{Phases: []quantify.Slope{{Value: 0.5, U: 0.1}, {Value: -0.4, U: 0.1}}})
	require.Len(t, c, 1)
	assert.Equal(t, "layered", c[0].Code)
	assert.Equal(t, "Nickel", c[0].Evidence["beneath"])
	assert.Equal(t, "Bunsenite", c[0].Evidence["above"])
	assert.NotContains(t, c[0].Evidence, "thickness_um", "absorption is not known")
	// μ = 50 cm²/g × 7 g/cm³ = 350/cm: ln I falls by 2·350·t/sin θ, so a slope of 0.5 is t = 0.5/700 cm = 7.14 µm, ± 1.43.
	oxide := &e.Explanation.Matches[1].Phase
	oxide.MassAbsorption, oxide.Density = 50, 7
	c = layered(e, quantify.Trends{Phases: []quantify.Slope{{Value: 0.5, U: 0.1}, {Value: -0.4, U: 0.1}}})
	assert.InDelta(t, 7.143, c[0].Evidence["thickness_um"], 1e-3)
	assert.InDelta(t, 1.429, c[0].Evidence["thickness_u_um"], 1e-3)
	assert.Zero(t, at(quantify.Slope{Value: 0.5, U: 0.1}, quantify.Slope{Value: 0.4, U: 0.1}), "both rise: the slit")
	assert.Zero(t, at(quantify.Slope{Value: 0.5, U: 0.2}, quantify.Slope{Value: -0.4, U: 0.1}), "2.5 standard uncertainties")
	assert.Zero(t, at(quantify.Slope{Value: 0.05, U: 0.01}, quantify.Slope{Value: -0.05, U: 0.01}), "too little to matter")
}
