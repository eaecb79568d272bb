package xrd_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
)

// The rule of n nodes has the moments of u² with u even over 0 to 1, ∫ u^2k du = 1/(2k + 1), up to the (2n − 1)th.
func TestAxialRules(t *testing.T) {
	for _, n := range []int{1, 2, 4, 8} {
		rule := xrd.AxialRule(n)
		assert.Len(t, rule, n)
		for k := range 2 * n {
			var moment float64
			for _, node := range rule {
				moment += node.Weight * math.Pow(node.Shift, float64(k))
			}
			assert.InDelta(t, 1/float64(2*k+1), moment, 1e-14, "moment %d of %d nodes", k, n)
		}
	}
}

// A longer tail never has fewer nodes, and each number of nodes has a rule.
func TestAxialNodes(t *testing.T) {
	last := 0
	for widths := 0.0; widths < 3; widths += 0.01 {
		n := xrd.AxialNodes(widths)
		assert.GreaterOrEqual(t, n, last)
		assert.Len(t, xrd.AxialRule(n), n, "%g widths", widths)
		last = n
	}
	assert.Equal(t, []int{1, 8}, []int{xrd.AxialNodes(0), xrd.AxialNodes(math.Inf(1))})
}
