package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestWatchedPhaseIsSeen: of half quartz and half corundum, neither is absent although only one is named.
func TestWatchedPhaseIsSeen(t *testing.T) {
	j := job(t, load(t, "testdata/short-specimen.xy"), "Cu")
	j.Phases = []string{"quartz"}
	j.Watch = []string{"corundum", "silver"}
	doc := run(t, j)
	c := caution(t, doc, "watched-seen")
	assert.Equal(t, "corundum", c.Evidence["phase"])
	assert.Greater(t, c.Evidence["significance"], 10.0)
	require.Len(t, doc.NotDetected, 1)
	assert.Equal(t, "silver", doc.NotDetected[0].ID)
	j.Phases = []string{"quartz", "corundum"}
	j.Watch = []string{"silver"}
	assert.False(t, has(run(t, j), "watched-seen"))
}
