package plots

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Medians of parts of a straight line lie on the line, in order; a lone wild scan does not move them; where most scans do
// not show the phase, the point is a limit.
func TestMediansFollowTheScans(t *testing.T) {
	const n = 9000
	points := make([]trendPoint, n)
	for i := range points {
		x := float64(i)
		points[i] = trendPoint{x: x, value: 10 + x/1000, lo: 9 + x/1000, hi: 11 + x/1000}
		if i%100 == 50 {
			points[i].value = 99
		}
		if i >= n/2 {
			points[i].limit = i%10 != 0
		}
	}
	out, most := medians(points)
	require.Len(t, out, trendCells)
	assert.Equal(t, n/trendCells, most)
	for k, q := range out {
		assert.Equal(t, q.x > n/2, q.limit, "at %g", q.x)
		assert.InDelta(t, 10+q.x/1000, q.value, 0.005, "at %g", q.x)
		assert.InDelta(t, 2, q.hi-q.lo, 0.01)
		if k > 0 {
			assert.Greater(t, q.x, out[k-1].x)
		}
	}
	same := []trendPoint{{x: 3, value: 1, lo: math.NaN(), hi: math.NaN()}, {x: 3, value: 5, lo: 4, hi: 6}, {x: 3, value: 9, lo: math.NaN(), hi: math.NaN()}}
	out, most = medians(same)
	assert.Equal(t, []trendPoint{{x: 3, value: 5, lo: 4, hi: 6}}, out, "all in one place")
	assert.Equal(t, 3, most)
}
