package pattern_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
)

// TestSplines: cubic B-splines sum to 1 everywhere (identity), also over a gap of the scan, and reproduce a straight
// line from coefficients at the knots (j − 1 intervals from the first).
func TestSplines(t *testing.T) {
	x := append(angles(10, 40, 0.1), angles(60, 100, 0.1)...)
	for _, n := range []int{2, 5, 30} {
		cols := pattern.Splines(x, n)
		require.Len(t, cols, n+3)
		for i, v := range x {
			var sum, line float64
			for j, c := range cols {
				first, end := c.Bounds()
				if i < first || i >= end {
					continue
				}
				b := c.Values[i-first]
				require.GreaterOrEqual(t, b, 0.0)
				sum += b
				line += b * (10 + float64(j-1)*90/float64(n))
			}
			assert.InDelta(t, 1, sum, 1e-12)
			require.InDelta(t, v, line, 1e-9)
		}
	}
}

func TestKnotChoices(t *testing.T) {
	for _, span := range []float64{0.1, 5, 20, 80, 145, 180} {
		choices := pattern.KnotChoices(span)
		require.NotEmpty(t, choices)
		require.GreaterOrEqual(t, choices[0], 2)
		require.IsIncreasing(t, append([]int{1}, choices...), "no choice twice")
		require.LessOrEqual(t, choices[len(choices)-1], max(2, int(span/3)), "no interval as narrow as a line")
	}
}
