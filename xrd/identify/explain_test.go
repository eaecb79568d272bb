package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
)

func TestExplain(t *testing.T) {
	const cu = 1.5405929
	lib := library.Starter()
	got := Explain(lib, Filter{Elements: set(29, 50)}, 43.3, 0.15, cu)
	require.NotEmpty(t, got)
	byID := map[string]result.Suspect{}
	for k, s := range got {
		byID[s.ID] = s
		assert.InDelta(t, 43.3, s.TwoTheta, 0.15+1e-6)
		if k > 0 {
			assert.GreaterOrEqual(t, s.Rank, got[k-1].Rank)
		}
	}
	require.Contains(t, byID, "copper", "111 of copper is at 43.30° (a = 3.615 Å)")
	assert.Equal(t, 1, byID["copper"].Rank)
	assert.True(t, byID["copper"].Inside)
	require.Contains(t, byID, "corundum", "113 of corundum is at 43.35°: whatever the filter")
	assert.True(t, byID["corundum"].Preparation)
	for _, bad := range []float64{0, -5, 180, 400, math.NaN(), math.Inf(1)} {
		assert.Empty(t, Explain(lib, Filter{}, bad, 0.15, cu))
	}
	assert.Empty(t, Explain(library.FromRecords("", "", nil), Filter{}, 43.3, 0.15, cu))
}
