package identify

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/xrdtest"
)

// without returns the setup without the points from lo to hi degrees.
func without(set pattern.Setup, lo, hi float64) pattern.Setup {
	var x, y, u []float64
	for i, v := range set.TwoTheta {
		if v < lo || v > hi {
			x, y, u = append(x, v), append(y, set.Intensity[i]), append(u, set.Sigma[i])
		}
	}
	set.TwoTheta, set.Intensity, set.Sigma = x, y, u
	return set
}

// TestGapsChangeNoName: a range left out of a scan of three oxides, which takes some lines of each, changes no name. Lines in the gap
// cannot be absent, and nothing is laid across it.
func TestGapsChangeNoName(t *testing.T) {
	job := specimen{parts: []part{{"rutile", 170, 0}, {"zincite", 240, 0}, {"corundum", 48, 0}}, lo: 10, displacement: 0.1, seed: 3}.job(t, library.Starter())
	whole := evidenceLevels(run(t, job))
	require.Len(t, whole, 3)
	rnd := rand.New(rand.NewPCG(3, 3))
	gaps := [][2]float64{{30, 45}, {27.33, 32.36}}
	for range 8 {
		lo := 12 + 75*rnd.Float64()
		gaps = append(gaps, [2]float64{lo, lo + 5 + 5*float64(rnd.IntN(2))})
	}
	for _, g := range xrdtest.Some(t, gaps, 4) {
		masked := job
		masked.Setup = without(job.Setup, g[0], g[1])
		got := evidenceLevels(run(t, masked))
		assert.Len(t, got, 3, "without %.2f° to %.2f°: %v", g[0], g[1], got)
		for id := range whole {
			assert.Contains(t, got, id, "without %.2f° to %.2f°", g[0], g[1])
		}
	}
}

// TestFirstLookEndsAtGaps: what lies on one side of a gap changes nothing on the other.
func TestFirstLookEndsAtGaps(t *testing.T) {
	set := without(bushing.job(t, library.Starter()).Setup, 40, 50)
	gap, _ := slices.BinarySearch(set.TwoTheta, 45)
	before, sigma := firstLook(set), firstSigma(set)
	set.Intensity = slices.Clone(set.Intensity)
	for i := gap; i < len(set.Intensity); i++ {
		set.Intensity[i] *= 10
	}
	assert.Equal(t, before[:gap], firstLook(set)[:gap])
	assert.Equal(t, sigma[:gap], firstSigma(set)[:gap])
}
