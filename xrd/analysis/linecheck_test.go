package analysis_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestLineCheck: the TiO2 mixture of the BCA round robin of 2003 as weighed, 99.16 wt% rutile and 0.84 wt% anatase
// (c_bca2003_roundrobin_two_phase.csv, read), simulated: the whole pattern and single lines alike find it within their
// intervals, and closer than the seven laboratories of the round robin, who read 0.45 to 1.5.
func TestLineCheck(t *testing.T) {
	doc := run(t, simulated(t, "titania", "rutile", "anatase"))
	for id, want := range map[string]float64{"rutile": 99.16, "anatase": 0.84} {
		p := phase(t, doc, id)
		assert.InDelta(t, want, *p.WeightPercent, 0.15, id)
		assert.True(t, *p.WeightPercentLo < want && want < *p.WeightPercentHi, id)
		c := p.LineRIR
		require.NotNil(t, c, id)
		assert.GreaterOrEqual(t, c.Lines, 3, id)
		assert.InDelta(t, want, *c.MultiWeightPercent, 0.15, id)
		assert.True(t, *c.MultiLo < want && want < *c.MultiHi, id)
		assert.True(t, *c.SingleLo < want && want < *c.SingleHi, id)
		assert.Less(t, math.Abs(c.Sigmas), 2.8, id)
	}
	assert.InDelta(t, 25.3, *phase(t, doc, "anatase").LineRIR.SingleTwoTheta, 0.1, "anatase 101 (from memory)")
	assert.False(t, has(doc, "methods-disagree"))
}
