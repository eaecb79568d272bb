package quantify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// TestChung holds Run against the normalised RIR method by hand: w_p = 100 (I_p/R_p)/Σ (I_q/R_q).
func TestChung(t *testing.T) {
	for _, c := range []struct {
		name, source   string
		strongest, rir []float64
		want           []float64
		delta          float64
	}{
		{"three phases", "by hand: 500/1.00 = 500, 680/3.40 = 200, 1500/5.00 = 300; the sum is 1000",
			[]float64{500, 680, 1500}, []float64{1.00, 3.40, 5.00}, []float64{50, 20, 30}, 1e-9},
		{"RIR of 50:50 with corundum", "definition of RIR: a 50:50 mixture gives intensities in the ratio of the RIRs",
			[]float64{3.4, 1}, []float64{3.4, 1}, []float64{50, 50}, 1e-9},
		{"one phase", "the sum is 100 by definition", []float64{7}, []float64{2}, []float64{100}, 1e-12},
		{"a phase without intensity", "0/2 = 0", []float64{0, 5}, []float64{2, 1}, []float64{0, 100}, 1e-12},
		{"ratio K of rutile and anatase", "K = 1.33 (d_quantification_read.csv, textbook problem): equal intensities mean C_R/C_A = 1.33, so 57.1 % rutile",
			[]float64{1, 1}, []float64{1, 1.33}, []float64{57.1, 42.9}, 0.05},
		{"nothing", "nothing to share out", []float64{0, 0}, []float64{1, 1}, []float64{math.NaN(), math.NaN()}, 0},
		{"no ratio", "a phase of unknown ratio withholds all", []float64{1, 1}, []float64{1, 0}, []float64{math.NaN(), math.NaN()}, 0},
		{"no number", "a ratio that is no number withholds all", []float64{1, 1}, []float64{math.NaN(), 1}, []float64{math.NaN(), math.NaN()}, 0},
		{"no finite amount", "infinite intensity is no amount", []float64{math.Inf(1), 1}, []float64{1, 1}, []float64{math.NaN(), math.NaN()}, 0},
	} {
		require.NotEmpty(t, c.source, c.name)
		var phases []refdata.Phase
		for i, rir := range c.rir {
			phases = append(phases, invented(i, rir))
		}
		f := exact(t, phases, []float64{300, 300, 300}[:len(phases)], []float64{1, 1, 1}[:len(phases)])
		f.Scales = c.strongest
		a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, len(phases))})
		for p, want := range c.want {
			got := a.Fractions[p].Weight.Percent
			if math.IsNaN(want) {
				assert.True(t, math.IsNaN(got), "%s (%s): %g", c.name, c.source, got)
			} else {
				assert.InDelta(t, want, got, c.delta, "%s (%s)", c.name, c.source)
			}
		}
	}
}

// TestShareCovariance compares the propagated covariance with shares of 200 000 drawn mixtures, for uncertainties so
// small that curvature does not matter, and checks that the errors of shares, which sum to 100, sum to 0.
func TestShareCovariance(t *testing.T) {
	amounts := []float64{5, 3, 2}
	logCov := [][]float64{{0.0004, 0.0001, 0}, {0.0001, 0.0009, 0}, {0, 0, 0.0001}}
	w, err := quantify.Shares(amounts)
	require.NoError(t, err)
	got := quantify.ShareCovariance(w, logCov)
	for p := range got {
		assert.InDelta(t, 0, got[p][0]+got[p][1]+got[p][2], 1e-12)
	}

	// Cholesky factor of the upper block, by hand: 0.02, 0.0001/0.02 = 0.005, √(0.0009 − 0.000025).
	const n = 200000
	rnd := rand.New(rand.NewPCG(1, 1))
	var sum [3]float64
	var squares [3][3]float64
	for range n {
		a, b, c := rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()
		drawn, err := quantify.Shares([]float64{5 * math.Exp(0.02*a), 3 * math.Exp(0.005*a+math.Sqrt(0.000875)*b), 2 * math.Exp(0.01*c)})
		require.NoError(t, err)
		for p := range 3 {
			sum[p] += drawn[p] - w[p]
			for q := range 3 {
				squares[p][q] += (drawn[p] - w[p]) * (drawn[q] - w[q])
			}
		}
	}
	for p := range 3 {
		for q := range 3 {
			drawn := squares[p][q]/n - sum[p]/n*sum[q]/n
			// Sampling gives a covariance to √2/√n = 0.3 % of the variances; curvature adds 0.1 %.
			assert.InDelta(t, drawn, got[p][q], 0.012*math.Sqrt(got[p][p]*got[q][q]), "%d %d", p, q)
		}
	}
}

func TestInterval(t *testing.T) {
	// By hand: 50 ± 1: the logit is 0, its uncertainty 0.01/0.25 = 0.04; ±1.96·0.04 = ±0.0784; 1/(1 + e^∓0.0784) = 0.5 ± 0.01959.
	lo, hi := quantify.Interval(50, 1, quantify.Z95)
	assert.InDelta(t, 48.041, lo, 1e-3)
	assert.InDelta(t, 51.959, hi, 1e-3)
	for _, percent := range []float64{-2, 0, 0.001, 0.5, 3, 40, 90, 99.9, 100, 103} {
		for _, u := range []float64{0, 0.01, 1, 20, 1000} {
			lo, hi := quantify.Interval(percent, u, quantify.Z95)
			name := fmt.Sprintf("%g ± %g: %g to %g", percent, u, lo, hi)
			assert.True(t, lo >= 0 && hi <= 100 && lo <= hi+1e-12, name)
			if percent >= 0 && percent <= 100 {
				assert.True(t, lo <= percent+1e-9 && percent <= hi+1e-9, name)
				assert.LessOrEqual(t, hi, percent+2*1.96*u+1e-9, name) // a trace is never "up to everything"
			}
			mirrorLo, mirrorHi := quantify.Interval(100-percent, u, quantify.Z95)
			assert.InDelta(t, 100-hi, mirrorLo, 1e-9, name)
			assert.InDelta(t, 100-lo, mirrorHi, 1e-9, name)
		}
	}
}

// TestIntervalCovers: the interval of a value that scatters by a Gaussian in its logit (as RIR errors make it) holds
// the truth in 95 % of the cases; Gaussian scatter of the value itself (as counting makes it) is held as well.
func TestIntervalCovers(t *testing.T) {
	const n = 20000
	rnd := rand.New(rand.NewPCG(2, 2))
	for _, truth := range []float64{2, 20, 60, 95} {
		f := truth / 100
		for _, s := range []float64{0.05, 0.15} {
			var logit, linear int
			for range n {
				x := math.Log(f/(1-f)) + s*rnd.NormFloat64()
				got := 100 / (1 + math.Exp(-x))
				if lo, hi := quantify.Interval(got, s*got*(1-got/100), quantify.Z95); lo <= truth && truth <= hi {
					logit++
				}
				u := 100 * s * f * (1 - f)
				if lo, hi := quantify.Interval(truth+u*rnd.NormFloat64(), u, quantify.Z95); lo <= truth && truth <= hi {
					linear++
				}
			}
			bound := 4 * math.Sqrt(0.95*0.05/n)
			assert.InDelta(t, 0.95, float64(logit)/n, bound, "%g %%, u(logit) %g", truth, s)
			assert.InDelta(t, 0.95, float64(linear)/n, bound+0.015*s/0.15, "%g %%, u %g", truth, s)
		}
	}
}
