package report

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/result"
)

func TestBaseOfSeries(t *testing.T) {
	whole, part := result.SeriesEntry{Verdict: result.Complete}, result.SeriesEntry{Verdict: result.Partial}
	assert.Equal(t, "the crystalline part", baseOf([]result.SeriesEntry{whole, whole}))
	assert.Equal(t, "what was recognised", baseOf([]result.SeriesEntry{part, part}))
	assert.Equal(t, "the crystalline part, in 1 of them of what was recognised", baseOf([]result.SeriesEntry{whole, part}))
}
