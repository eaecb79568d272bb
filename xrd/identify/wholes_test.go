package identify_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

// isotypeOf returns the level of a phase in what explains a mixture without one phase in the reference data, whether it is named at all, and what is said of
// known phases beyond these.
func isotypeOf(t *testing.T, id, missing string, parts map[string]float64) (level result.Evidence, named bool, why string) {
	t.Helper()
	job := mixture(t, parts)
	job.Collection, job.Known = without(library.Starter(), 0, missing), library.Starter()
	for _, m := range explain(t, job).Matches {
		if m.Phase.ID != id {
			continue
		}
		level, named = m.Evidence, true
		for _, r := range m.Reasons {
			if r.Code == "isotype" {
				why += r.Text
			}
		}
	}
	return level, named, why
}

// Nickel has all its lines where MgCu2 (a = 7.03 Å, twice that of nickel less 0.3 %) has lines. Where MgCu2 is missing from the reference
// data and what it leaves lies at two more of its strong lines, nickel is no firm name; where nickel is there, it is.
func TestAPartOfAPhaseIsNoFirmName(t *testing.T) {
	level, named, why := isotypeOf(t, "nickel", "mgcu2", map[string]float64{"mgcu2": 1500, "corundum": 3000, "quartz": 1000})
	require.True(t, named, "it must come in for the test to say anything")
	assert.Equal(t, result.Tentative, level)
	assert.Contains(t, why, "MgCu2")

	level, named, why = isotypeOf(t, "nickel", "mgcu2", map[string]float64{"nickel": 1500, "corundum": 3000, "quartz": 1000})
	require.True(t, named)
	assert.Equal(t, result.Established, level)
	assert.Empty(t, why)
}

// Chromium (a = 2.885 Å) has all lines of NiAl (2.887 Å) but those of its order, the strongest of which lies under that of dolomite. Where the others
// would drown, chromium is no firm name while NiAl is missing from the reference data; where they would be seen and are not, it is chromium.
func TestAnOrderedPhaseWhoseLinesWouldDrown(t *testing.T) {
	level, named, why := isotypeOf(t, "chromium", "nial", map[string]float64{"dolomite": 4000, "chromium": 40})
	require.True(t, named)
	assert.Equal(t, result.Tentative, level)
	assert.Contains(t, why, "NiAl")

	level, named, why = isotypeOf(t, "chromium", "nial", map[string]float64{"dolomite": 4000, "chromium": 900})
	require.True(t, named)
	assert.Equal(t, result.Established, level)
	assert.NotContains(t, why, "NiAl")
}
