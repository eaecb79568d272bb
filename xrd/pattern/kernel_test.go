package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// TestAxialRules: the moments of u² over 0..1 are 1/(2k + 1); n nodes give the first 2n of them exactly (Gauss).
func TestAxialRules(t *testing.T) {
	for _, n := range []int{1, 2, 4, 8} {
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

// TestProfileOfTails compares profiles with the tail averaged in 2000 small steps, at every length of tail, as drawn by a
// rule; the statement of axialNodes is tested.
func TestProfileOfTails(t *testing.T) {
	const fwhm, step = 0.1, 0.005
	x := angles(10, 14, step)
	for _, eta := range []float64{0, 0.5, 1} {
		for _, widths := range []float64{0, 0.029, 0.1, 0.249, 0.6, 0.749, 1.3, 2} {
			got, want := make([]float64, len(x)), make([]float64, len(x))
			pattern.AddProfile(x, got, 2, 12, fwhm, eta, -widths*fwhm)
			const parts = 2000
			for k := range parts {
				u := (float64(k) + 0.5) / parts
				for i, v := range x {
					want[i] += 2. / parts * xrd.PseudoVoigt(v-12+widths*fwhm*u*u, fwhm, eta)
				}
			}
			var top, worst float64
			for i := range x {
				top, worst = math.Max(top, want[i]), math.Max(worst, math.Abs(got[i]-want[i]))
			}
			assert.Less(t, worst, 7e-4*top, "tail of %g widths, η = %g", widths, eta)
		}
	}
}
