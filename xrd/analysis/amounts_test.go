package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// TestPhaseWithoutLineOfItsOwn: all lines of a little gold lie under those of silver. It need not be there, and its interval says so, while silver may
// be what both give. Much gold shows lines, and keeps a lower end; so does a little that is asked for.
func TestPhaseWithoutLineOfItsOwn(t *testing.T) {
	amounts := func(gold float64, required ...string) (w, other result.Phase) {
		j := played(t, []part{{"silver", 40}, {"gold", gold}, {"copper", 60 - gold}}, func(s *simulate.Job) { s.Seed = 4 })
		j.Specimen.Section = "powder"
		j.Filter.Require = required
		doc := run(t, j)
		return phase(t, doc, "gold"), phase(t, doc, "silver")
	}
	little, silver := amounts(8)
	require.Equal(t, result.Tentative, little.Evidence)
	assert.Equal(t, 0.0, *little.WeightPercentLo)
	assert.Greater(t, *little.WeightPercentHi, 8.0)
	assert.Greater(t, *silver.WeightPercentHi, 50.0, "both together")
	much, _ := amounts(20)
	assert.NotEqual(t, result.Tentative, much.Evidence)
	assert.Greater(t, *much.WeightPercentLo, 15.0)
	named, _ := amounts(8, "gold")
	assert.Positive(t, *named.WeightPercentLo)
}
