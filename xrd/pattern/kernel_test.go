package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/pattern"
)

// TestAxialRules: the moments of u² over 0..1 are 1/(2k + 1); n Gauss–Legendre nodes give those with 2k < 2n exactly, and
// the single node the mean.
func TestAxialRules(t *testing.T) {
	for _, n := range []int{1, 2, 4, 8} {
		shift, weight := pattern.Rule(n)
		for k := 0; k < max(2, n); k++ {
			var sum float64
			for i, s := range shift {
				sum += weight[i] * math.Pow(s, float64(k))
			}
			assert.InDelta(t, 1/float64(2*k+1), sum, 1e-14, "%d nodes, moment %d", n, k)
		}
	}
}
