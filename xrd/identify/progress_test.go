package identify

import (
	"context"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// counted counts how often lines of a collection's phases are computed: 24 times a round.
type counted struct {
	Collection
	calls atomic.Int64
}

func (c *counted) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	c.calls.Add(1)
	return c.Collection.Phase(i, b)
}

// TestGrowthStops: where the reference data lack what makes most of the pattern, no crowd of phases is called in to mend it.
func TestGrowthStops(t *testing.T) {
	parts := []part{{"barite", 300, 0}, {"ybco-123", 200, 0}, {"aragonite", 200, 0}, {"quartz", 60, 0}}
	job := specimen{parts: parts, lo: 10, seed: 51}.job(t, library.Starter())
	job.Filter.Exclude = []string{"barite", "ybco-123", "aragonite"}
	c := &counted{Collection: job.Collection}
	job.Collection = c
	out := run(t, job)
	assert.LessOrEqual(t, len(out.Matches), 3)
	for id, w := range evidenceLevels(out) {
		assert.Equal(t, result.Tentative, w, id)
	}
	assert.Less(t, c.calls.Load(), int64(32*policy.Effort.Shortlist), "rounds of this search and of those with other tubes")
}

func TestProgress(t *testing.T) {
	s := specimen{parts: []part{{"copper", 300, 0}, {"rutile", 100, 0}, {"corundum", 4, 0}}, seed: 52}
	job := s.job(t, library.Starter())
	fitted := func(ids ...string) *pattern.Fit {
		set := job.Setup
		for _, id := range ids {
			set.Phases = append(set.Phases, phaseOf(t, id, job.Beam))
		}
		fit, err := pattern.Run(context.Background(), set, pattern.Full)
		require.NoError(t, err)
		return fit
	}
	found := job.peaks()
	assert.True(t, progress(0, fitted("copper"), found))
	assert.True(t, progress(Judge(fitted("copper"), found).Share, fitted("copper", "rutile"), found))
	assert.False(t, progress(Judge(fitted("copper"), found).Share, fitted("copper", "barite"), found))
	assert.True(t, progress(0.95, fitted("copper", "rutile", "corundum"), found), "where most is explained, weak phases have no share to show")
}

// A phase that was taken out twice is not tried again.
func TestDroppedTwice(t *testing.T) {
	assert.Equal(t, map[int]bool{3: true, 4: true}, droppedTwice(map[int]int{1: 0, 2: 1, 3: 2, 4: 3}))
}
