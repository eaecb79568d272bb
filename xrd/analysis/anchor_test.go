package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/analysis"
)

// TestFalseAnchor: a standard whose cell is 0.3 % larger than its reference (testdata/README.md) is not used for the angle
// scale in silence; the cell of quartz, which is that of its reference, comes out right all the same.
func TestFalseAnchor(t *testing.T) {
	j := job(t, load(t, "testdata/false-spike.xy"), "Cu")
	j.Phases = []string{"quartz"}
	j.Spike = &analysis.Spike{ID: "corundum", WeightPercent: 20}
	doc := run(t, j)
	c := caution(t, doc, "anchor-doubtful")
	assert.Equal(t, "corundum", c.Evidence["id"])
	assert.InDelta(t, 0.003, c.Evidence["relative_change"], 3e-4)
	assert.False(t, has(doc, "angle-anchor"))
	a := phase(t, doc, "quartz").Cell.A
	assert.InEpsilon(t, 4.9134, a, 3e-4, "quartz: a = 4.9134 Å (from memory), as simulated")
	require.NotNil(t, doc.Absolute)
	assert.InDelta(t, 0, *doc.Absolute.AmorphousWeightPercent, 5)
}

// TestTrueAnchor: a standard of its reference cell fixes the scale and raises no doubt.
func TestTrueAnchor(t *testing.T) {
	j := job(t, load(t, "testdata/short-specimen.xy"), "Cu")
	j.Phases = []string{"quartz"}
	j.Anchor = "corundum"
	doc := run(t, j)
	assert.True(t, has(doc, "angle-anchor"))
	assert.False(t, has(doc, "anchor-doubtful"))
}

// TestAbsentAnchor: nothing rests on a phase that the scan does not show.
func TestAbsentAnchor(t *testing.T) {
	j := job(t, load(t, "testdata/short-specimen.xy"), "Cu")
	j.Phases = []string{"quartz", "corundum"}
	j.Anchor = "silver"
	doc := run(t, j)
	assert.Contains(t, caution(t, doc, "anchor-doubtful").Text, "is not seen")
	assert.False(t, has(doc, "angle-anchor"))
	j = job(t, load(t, "testdata/glass.xy"), "Cu")
	j.Phases = []string{"quartz", "corundum", "copper"}
	j.Anchor = "zincite" // whose scale is not 0, and whose cell a fit would move
	assert.Contains(t, caution(t, run(t, j), "anchor-doubtful").Text, "is not seen")
}
