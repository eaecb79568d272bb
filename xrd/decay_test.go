package xrd_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

// TestDecay compares with the library's exponential over the whole range, on and beside the steps of the table.
func TestDecay(t *testing.T) {
	assert.Equal(t, 1.0, xrd.Decay(0))
	for z := 0.0; z < 36; z += 0.001953125 * 0.99 {
		for _, v := range []float64{z, math.Nextafter(math.Ceil(z*16)/16, 0)} {
			if v < 36 {
				require.InEpsilon(t, math.Exp(-v), xrd.Decay(v), 1e-12, "%v", v)
			}
		}
	}
	for _, v := range []float64{36, 1e300, math.Inf(1), math.NaN()} {
		assert.Zero(t, xrd.Decay(v))
	}
}

func BenchmarkDecay(b *testing.B) {
	var sum float64
	z := 0.0
	for b.Loop() {
		sum += xrd.Decay(z)
		if z += 0.37; z > 34 {
			z = 0
		}
	}
	b.ReportMetric(sum, "sum")
}
