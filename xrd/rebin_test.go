package xrd_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

// TestRebinnedKeepsCounts: sums over a run are those of the points but for the few at its end, nothing is joined over a gap, counts
// stay counts, and variances add up.
func TestRebinnedKeepsCounts(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	for range 100 {
		var x, y, u []float64
		for at := 20.0; at < 40; at += 0.01 {
			if at < 27 || at > 31 {
				x, y, u = append(x, at), append(y, float64(rnd.IntN(50))), append(u, 1+rnd.Float64())
			}
		}
		k := 2 + rnd.IntN(9)
		scan, err := xrd.NewScan(x, y, u, xrd.ScanInfo{Sample: "a"})
		require.NoError(t, err)
		got := scan.Rebinned(k)
		_, err = xrd.NewScan(got.TwoTheta, got.Intensity, got.Sigma, got.About)
		require.NoError(t, err)
		assert.Equal(t, "a", got.About.Sample)
		next := 0
		for _, r := range xrd.Runs(x) {
			for n := (r.End - r.First) / k; n > 0; n-- {
				from := r.First + ((r.End-r.First)/k-n)*k
				var angle, sum, variance float64
				for i := from; i < from+k; i++ {
					angle, sum, variance = angle+x[i], sum+y[i], variance+u[i]*u[i]
				}
				assert.InDelta(t, angle/float64(k), got.TwoTheta[next], 1e-9)
				assert.InDelta(t, sum, got.Intensity[next], 1e-9)
				assert.InDelta(t, math.Sqrt(variance), got.Sigma[next], 1e-9)
				next++
			}
		}
		assert.Equal(t, next, got.Len())
		scan.Sigma = nil
		assert.True(t, scan.Rebinned(k).Counts())
	}
	few, err := xrd.NewScan(make20(), make20(), nil, xrd.ScanInfo{})
	require.NoError(t, err)
	assert.Equal(t, few, few.Rebinned(2), "too few would be left")
}

func make20() (v []float64) {
	for i := range 20 {
		v = append(v, float64(i+1))
	}
	return v
}
