package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
)

// lines returns n Gaussian peaks far apart on a scan, each of the given height, with the points of each.
func lines(n int, height float64) (peaks []float64, of []int) {
	const apart, sigma = 60, 4.0
	for i := range n * apart {
		d := float64(i%apart - apart/2)
		peaks = append(peaks, height*math.Exp(-d*d/(2*sigma*sigma)))
		of = append(of, i/apart)
	}
	return peaks, of
}

// TestMisfitOfNoise: Poisson-like noise alone is no misfit. κ² is estimated less one standard uncertainty, so it should
// be above 0 in about one of six seeds for each of its two views, and then by little.
func TestMisfitOfNoise(t *testing.T) {
	const seeds = 200
	peaks, _ := lines(20, 4000)
	some, most := 0, 0.0
	for seed := range uint64(seeds) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		residual, variance := make([]float64, len(peaks)), make([]float64, len(peaks))
		for i, p := range peaks {
			variance[i] = p + 100
			residual[i] = rnd.NormFloat64() * math.Sqrt(variance[i])
		}
		k := pattern.Misfit(residual, peaks, variance)
		if k > 0 {
			some++
		}
		most = math.Max(most, k)
	}
	// Two views at one standard uncertainty each: at most 2 × 16 % and their spread (binomial, 4 standard uncertainties).
	assert.Less(t, float64(some)/seeds, 0.32+4*math.Sqrt(0.32*0.68/seeds))
	// δ² of a line has variance 2 (1/ΣP)² with ΣP = 4000·4·√(2π) = 40 106; times n = 14.2 points and over 20 lines the
	// standard uncertainty of κ² is 14.2/40 106·√(2/20) = 1.1e-4. One is subtracted; 4.5 are never exceeded in 200 seeds.
	assert.Less(t, most, math.Sqrt(3.5*1.1e-4), "0.5 % of a line")
}

// TestMisfitOfLines: when whole lines scatter by τ, κ = τ√n with n = (ΣP)²/ΣP² = σ·2√π points for a Gaussian; here
// 4·2√π = 14.2. The estimate from 40 lines has a relative uncertainty of 1/√80 = 11 %, and one is subtracted from κ².
func TestMisfitOfLines(t *testing.T) {
	peaks, of := lines(40, 1e6)
	for _, tau := range []float64{0.02, 0.1} {
		var sum float64
		const seeds = 40
		for seed := range uint64(seeds) {
			rnd := rand.New(rand.NewPCG(seed, 2))
			scatter := make([]float64, 40)
			for i := range scatter {
				scatter[i] = tau * rnd.NormFloat64()
			}
			residual, variance := make([]float64, len(peaks)), make([]float64, len(peaks))
			for i, p := range peaks {
				variance[i] = p + 100
				residual[i] = scatter[of[i]]*p + rnd.NormFloat64()*math.Sqrt(variance[i])
			}
			k := pattern.Misfit(residual, peaks, variance)
			require.Greater(t, k, 0.0)
			sum += k * k
		}
		want := tau * math.Sqrt(4*2*math.SqrtPi)
		assert.InEpsilon(t, want, math.Sqrt(sum/seeds), 0.1, "τ = %g", tau)
	}
}

// TestNoise: counts, a gain with a floor, and recorded uncertainties; arithmetic by hand.
func TestNoise(t *testing.T) {
	sigma := []float64{3, 7}
	for _, c := range []struct {
		name              string
		gain, floor       float64
		i                 int
		fitted, want, eps float64
	}{
		{"counts: the variance is the count", 1, 0, 0, 50, 50, 1e-12},
		{"counts where none are expected: half a count", 1, 0, 0, 0, 0.5, 1e-12},
		{"counts, background below nothing", 1, 0, 0, -4, 0.5, 1e-12},
		{"gain 2, floor 3: 2·50 + 3", 2, 3, 0, 50, 103, 1e-12},
		{"gain 2 where none are expected: 2·(0.5·2) + 3", 2, 3, 0, 0, 5, 1e-12},
		{"as recorded: 7²", 0, 0, 1, 50, 49, 1e-12},
	} {
		got := pattern.NoiseAt(pattern.Setup{Gain: c.gain, Floor: c.floor, Sigma: sigma}, c.i, c.fitted)
		assert.InDelta(t, c.want, got, c.eps, c.name)
	}
}
