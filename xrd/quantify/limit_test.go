package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// limitOf is the limit of one watched phase.
func limitOf(in quantify.Input, p refdata.Phase) float64 {
	return quantify.DetectionLimits(in, []quantify.Watched{{Phase: p}})[0]
}

// TestDetectionLimit simulates a phase at exactly the limit that a fit without it promises: its scale then exceeds
// threshold × the uncertainty that it has there in 95 % of the scans (Currie's β = 5 %), and in hardly any when it is not there.
func TestDetectionLimit(t *testing.T) {
	const seeds, threshold = 200, 4.0
	phases := []refdata.Phase{invented(0, 2), invented(1, 1)}
	in := quantify.Input{Fit: fitted(t, counts(t, phases[:1], []float64{300}, 1)), Roles: make([]quantify.Role, 1), Threshold: threshold}
	limit := limitOf(in, phases[1])
	require.Greater(t, limit, 0.0)
	// wt% back to a scale: beside an amount of 300/2.
	scale := limit / (100 - limit) * in.Fit.Scales[0] / 2
	sigma := scale / (threshold + 1.645)
	t.Logf("limit %.3f wt%%, scale %.2f, σ₀ %.3f", limit, scale, sigma)
	var found, invented int
	for seed := range uint64(seeds) {
		with := fitted(t, counts(t, phases, []float64{300, scale}, 100+seed))
		if with.Scales[1] > threshold*sigma {
			found++
		}
		if without := fitted(t, counts(t, phases, []float64{300, 0}, 500+seed)); without.Scales[1] > threshold*sigma {
			invented++
		}
	}
	t.Logf("found %d, invented %d of %d", found, invented, seeds)
	assert.InDelta(t, 0.95, float64(found)/seeds, 3.5*math.Sqrt(0.95*0.05/seeds))
	assert.LessOrEqual(t, invented, 1)

	// A phase that is there in plenty, its width well known, has the limit of one that is missing: its own counts are
	// taken out of the noise.
	f := fitted(t, counts(t, phases, []float64{300, 30 * scale}, 9))
	a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), Threshold: threshold})
	assert.InEpsilon(t, limit, a.Fractions[1].Limit, 0.05)
}

// What is asked of lines, by hand on a phase of two equal lines far from all others, of unit height over 100 points of variance 4:
// information 25 a line, σ 0.2 a line and 0.1414 together. With threshold 5: the whole asks for 6.645·0.1414 = 0.940, one line that
// reaches the threshold for 1.329, two that are seen for 4.645·0.2 = 0.929: 0.940 it is. Where the lines lie under others it is 1.329.
func TestLimitOfLines(t *testing.T) {
	const n = 1000
	unit, others, variance := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range unit {
		variance[i] = 4
		if i >= 200 && i < 300 || i >= 600 && i < 700 {
			unit[i] = 1
		}
	}
	assert.InEpsilon(t, 6.645*0.2/math.Sqrt2, quantify.LeastScale(unit, others, variance, 0, 5), 1e-6)
	for i := range unit[:300] {
		others[i] = 50
	}
	assert.InEpsilon(t, 6.645*0.2, quantify.LeastScale(unit, others, variance, 0, 5), 1e-6, "one line of its own must reach the threshold")
	for i := range unit {
		others[i] = 50
	}
	assert.InEpsilon(t, 6.645*0.2, quantify.LeastScale(unit, others, variance, 0, 5), 1e-6, "two under others must")
	one := append([]float64(nil), unit...)
	for i := range one[:300] {
		one[i] = 0
	}
	assert.InEpsilon(t, 11.645*0.2, quantify.LeastScale(one, others, variance, 0, 5), 1e-6, "one line under others must stand at twice the threshold")
	// Own counts: A = 6.645 √(4 + A)/10 has A² = 0.4416 (4 + A), A = 1.568.
	assert.InEpsilon(t, 1.568, quantify.LeastScale(one, make([]float64, n), variance, 1, 5), 1e-3)
	assert.True(t, math.IsInf(quantify.LeastScale(make([]float64, n), others, variance, 1, 5), 1))
}

// TestOneLimit: named or watched, what would have been seen of a phase is the same, from all scans and for its grains.
func TestOneLimit(t *testing.T) {
	phases := []refdata.Phase{invented(0, 2), invented(1, 1)}
	for i := range phases {
		phases[i].Density, phases[i].MassAbsorption = 5, []float64{40, 400}[i]
		phases[i].Lines[0].TwoTheta = 27
	}
	alone := quantify.Input{Fit: fitted(t, counts(t, phases[:1], []float64{300}, 1)), Roles: make([]quantify.Role, 1), Threshold: 4}
	named := quantify.Input{Fit: fitted(t, counts(t, phases, []float64{300, 0}, 1)), Roles: []quantify.Role{quantify.Specimen, quantify.Absent}, Threshold: 4}
	same := func(msg string, watch quantify.Watched) float64 {
		limit := quantify.DetectionLimits(alone, []quantify.Watched{watch})[0]
		assert.InEpsilon(t, quantify.Run(named).Fractions[1].Limit, limit, 0.05, msg) // a fit adapts its background
		return limit
	}
	one := same("one scan", quantify.Watched{Phase: phases[1]})

	// Four scans as good as the first: half the limit.
	for range 3 {
		alone.More = append(alone.More, quantify.Scan{Fit: alone.Fit})
		named.More = append(named.More, quantify.Scan{Fit: named.Fit})
	}
	four := same("four scans", quantify.Watched{Phase: phases[1]})
	assert.InEpsilon(t, one/2, four, 0.06, "small limits add up like amounts; their own counts add a little")

	// Grains of 10 µm that absorb more than the mean show less of themselves, by their Brindley factor at 27°.
	alone.Grain, named.Grain = []float64{0}, []float64{0, 10}
	coarse := same("grains", quantify.Watched{Phase: phases[1], Grain: 10})
	assert.InEpsilon(t, four/quantify.Brindley((2000-200)*5e-4, 27), coarse, 0.05)
}

// TestDetectionLimitUnknown: no RIR, no line in range, nothing of the specimen's to set it against.
func TestDetectionLimitUnknown(t *testing.T) {
	in := quantify.Input{Fit: fitted(t, counts(t, []refdata.Phase{invented(0, 2)}, []float64{300}, 1)), Roles: make([]quantify.Role, 1), Threshold: 4}
	assert.True(t, math.IsNaN(limitOf(in, invented(1, 0))))
	far := refdata.Phase{ID: "far", RIR: refdata.RIR{Value: 1}, Lines: []refdata.Line{{D: 0.8, Intensity: 100}}}
	assert.True(t, math.IsNaN(limitOf(in, far)))
	in.Roles[0] = quantify.Preparation
	assert.True(t, math.IsNaN(limitOf(in, invented(1, 1))))
}

// TestCounting: the counting part of the budget is the spread of fractions over repeated scans.
func TestCounting(t *testing.T) {
	const seeds = 150
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	var sum, squares, stated float64
	for seed := range uint64(seeds) {
		f := fitted(t, counts(t, phases, []float64{60, 20}, seed))
		a := quantify.Run(quantify.Input{Fit: f, Roles: make([]quantify.Role, 2), Threshold: 4})
		w := a.Fractions[1].Weight.Percent
		sum += w
		squares += w * w
		stated += math.Pow(a.Fractions[1].Budget[0].U/f.Agreement.BerarLelann, 2)
	}
	spread := squares/seeds - sum/seeds*sum/seeds
	assert.InEpsilon(t, spread, stated/seeds, 4*math.Sqrt(2./seeds))
	assert.InDelta(t, 25, sum/seeds, 4*math.Sqrt(spread/seeds))
}
