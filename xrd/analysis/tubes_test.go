package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// TestNoTubeIsAskedForTwice: where nothing is explained and nobody stated the tube, a search is made with each, and none of these asks for all the
// others again.
func TestNoTubeIsAskedForTwice(t *testing.T) {
	xrdtest.Long(t, "TestRockEnds, of the tube that was stated")
	c := &counted{Collection: library.Starter()}
	k := kind{assumed: true, lo: 10, hi: 60, made: rock, known: c, without: []string{"forsterite", "gypsum", "aragonite", "goethite", "quartz"}}
	doc := run(t, k.job(t))
	require.Equal(t, result.None, doc.Explanation.Verdict)
	rounds := int(c.calls.Load()) / identify.DefaultPolicy().Effort.Shortlist
	assert.Less(t, rounds, 86, "75 when this was written, and 98 when each tube asked for the others")
}
