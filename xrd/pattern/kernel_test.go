package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/pattern"
)

// TestAxialRules: the moments of u² over 0..1 are 1/(2k + 1); n nodes give the first 2n of them exactly (Gauss).
func TestAxialRules(t *testing.T) {
	for _, n := range []int{1, 2, 4} {
		shift, weight := pattern.Rule(n)
		for k := range 2 * n {
			var sum float64
			for i, s := range shift {
				sum += weight[i] * math.Pow(s, float64(k))
			}
			assert.InDelta(t, 1/float64(2*k+1), sum, 1e-14, "%d nodes, moment %d", n, k)
		}
	}
}
