package quantify

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
)

// moments are the mean and the variance of τ² under its posterior, by Gauss–Legendre quadrature to far beyond where the sum of the
// program ends.
func moments(lines []deviation, share float64) (mean, variance float64) {
	density := func(tau float64) float64 {
		p := -tau * tau / (2 * shownScatter * shownScatter)
		for _, l := range lines {
			v := l.counting + tau*tau
			p -= share / 2 * (math.Log(v/1e-4) + l.square/v)
		}
		return math.Exp(p)
	}
	integral := func(power float64) float64 {
		return quad.Fixed(func(tau float64) float64 { return math.Pow(tau, power) * density(tau) }, 0, 12*shownScatter, 600, nil, 0)
	}
	mean = integral(2) / integral(0)
	return mean, integral(4)/integral(0) - mean*mean
}

// scattered are lines that scatter by tau beside counting of relative uncertainty u.
func scattered(n int, u, tau float64) (lines []deviation) {
	r := rand.New(rand.NewPCG(1, 2))
	for range n {
		lines = append(lines, deviation{square(math.Hypot(u, tau) * r.NormFloat64()), u * u})
	}
	return lines
}

// TestHiddenScatter: without a line that tells, the half-normal density of 3 % has ⟨τ²⟩ = s² and a variance of 2s⁴, so that ν′ = 4 + 1
// and σ² = 3s²/5, by hand. Lines that are known to no better than their counts say nearly that, clean lines much less, and lines that
// scatter about as much as they do.
func TestHiddenScatter(t *testing.T) {
	tau2, freedom := hiddenScatter(nil, 0)
	assert.InEpsilon(t, 0.6*0.03*0.03, tau2, 5e-3)
	assert.InEpsilon(t, 5, freedom, 5e-3)
	for _, c := range []struct {
		name   string
		n      int
		u, tau float64
		share  float64
		lo, hi float64 // of √σ², over that without lines
	}{
		{"few counts", 8, 0.3, 0, 0.7, 0.95, 1.05},
		{"many counts, clean", 30, 0.002, 0.001, 0.9, 0, 0.2},
		{"many counts, lines scatter by 4 %", 30, 0.005, 0.04, 0.9, 1.2, 2},
		{"two lines, no more than the fit takes up", 2, 0.02, 0, 0, 0.99, 1.01},
	} {
		lines := scattered(c.n, c.u, c.tau)
		got, freedom := hiddenScatter(lines, c.share)
		mean, variance := moments(lines, c.share)
		want := 4 + 2*mean*mean/variance
		assert.InEpsilon(t, want, freedom, 0.02, c.name)
		assert.InEpsilon(t, mean*(want-2)/want, got, 0.02, c.name)
		assert.GreaterOrEqual(t, math.Sqrt(got/tau2), c.lo, c.name)
		assert.LessOrEqual(t, math.Sqrt(got/tau2), c.hi, c.name)
	}
	for _, lines := range [][]deviation{{{25, 1e-12}}, {{0, 0}, {0, 0}}, scattered(500, 1e-6, 0.2)} {
		got, freedom := hiddenScatter(lines, 1)
		assert.True(t, got > 0 && freedom > 4 && !math.IsInf(freedom, 0), "lines that are far off, or without counting variance: %g %g", got, freedom)
	}
}

// TestHiddenScatterOfManyLines: clean counts and many lines of small scatter leave the posterior that is known in closed form, n
// degrees of freedom and the mean square of the deviations (a scaled inverse χ², textbook).
func TestHiddenScatterOfManyLines(t *testing.T) {
	lines := scattered(40, 1e-6, 0.004)
	var sum float64
	for _, l := range lines {
		sum += l.square
	}
	tau2, freedom := hiddenScatter(lines, 1)
	assert.InEpsilon(t, sum/39, tau2, 0.03, "τ, not ln τ, is equally likely beforehand: one line fewer")
	assert.InEpsilon(t, 39, freedom, 0.1)
}
