package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/simulate"
)

// TestAloneWithin: a phase alone is 100 % less what could hide, which is more where less is counted; of a phase as weak as
// corundum, as much as that is found when it is there; and two phases have no such number.
func TestAloneWithin(t *testing.T) {
	silicon := simulate.Component{WeightPercent: 100}
	silicon.Phase.ID = "silicon"
	last := 0.0
	for _, rate := range []float64{4000, 100} {
		k := kind{made: []simulate.Component{silicon}, named: []string{"silicon"}, rate: rate}
		doc := run(t, k.job(t))
		require.Len(t, doc.Phases, 1)
		require.NotNil(t, doc.HiddenLimit)
		p := doc.Phases[0]
		assert.InDelta(t, 100-*doc.HiddenLimit, *p.WeightPercentLo, 1e-9)
		assert.Less(t, *p.VolumePercentLo, 100.0)
		assert.Greater(t, *doc.HiddenLimit, 0.1)
		assert.Greater(t, *doc.HiddenLimit, 2*last)
		last = *doc.HiddenLimit
	}
	both := kind{made: oxides, named: []string{"zincite", "rutile", "corundum"}}
	assert.Nil(t, run(t, both.job(t)).HiddenLimit)
	k := kind{made: []simulate.Component{silicon}, named: []string{"silicon"}}
	hidden := *run(t, k.job(t)).HiddenLimit
	corundum := simulate.Component{WeightPercent: 2 * hidden}
	corundum.Phase.ID = "corundum"
	silicon.WeightPercent -= 2 * hidden
	there := kind{made: []simulate.Component{silicon, corundum}, elements: "Si,Al,O"}
	assert.Len(t, run(t, there.job(t)).Phases, 2, "twice as much is found")
}
