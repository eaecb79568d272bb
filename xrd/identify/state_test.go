package identify

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// cellCost is −2 ln of a density: it must be least at the published cell, grow on both sides alike, and leave a phase that
// forms solid solutions more room.
func TestCellCost(t *testing.T) {
	for e := 0.0; e < 0.03; e += 0.001 {
		for _, solidSolution := range []bool{false, true} {
			assert.Equal(t, cellCost(e, solidSolution), cellCost(-e, solidSolution))
			assert.Less(t, cellCost(e, solidSolution), cellCost(e+0.001, solidSolution), "grows at %g", e)
		}
		if e >= 0.008 {
			assert.Less(t, cellCost(e, true), cellCost(e, false), "at %g", e)
		}
	}
	// By hand at 0, not soluble: 0.85/0.001 + 0.15/0.003 = 900, −2 ln = −13.60.
	assert.InDelta(t, -13.605, cellCost(0, false), 0.005)
	// By hand at 0.005: 0.85/0.001·e^−12.5 + 0.15/0.003·e^−1.3889 = 0.0032 + 12.468, −2 ln = −5.046; the whole of policy.Deviance.Solution is due.
	assert.InDelta(t, 40-5.046, cellCost(0.005, false), 0.005)
}

// Half of what fails goes, the least of it, rounded up: one that fails alone goes, and one of a pair may hold without the other.
func TestLesserHalf(t *testing.T) {
	worth := func(p int) float64 { return []float64{50, 3, 80, 2, 4}[p] }
	assert.Equal(t, []int{1, 3}, lesserHalf([]int{4, 3, 1}, worth), "the weaker two of three")
	assert.Equal(t, []int{1}, lesserHalf([]int{1, 4}, worth))
	assert.Equal(t, []int{2}, lesserHalf([]int{2}, worth), "one that fails")
	assert.Empty(t, lesserHalf(nil, worth))
}

func TestDoubt(t *testing.T) {
	lib := library.Starter()
	job := specimen{parts: []part{{"silicon", 100, 0}, {"corundum", 40, 0}}}.job(t, lib)
	residual := make([]float64, len(job.Setup.Intensity))
	for i, y := range job.Setup.Intensity {
		residual[i] = y - 30
	}
	all := extraVariance(job.Setup, residual, nil)
	c := candidate{phase: phaseOf(t, "silicon", job.Beam), Trial: screen.Trial{Scale: 100}}
	without := extraVariance(job.Setup, residual, &c)
	at := func(d []float64, angle float64) (sum float64) {
		for i, x := range job.Setup.TwoTheta {
			if math.Abs(x-angle) < 0.1 {
				sum += d[i]
			}
		}
		return sum
	}
	const si111, corundum104 = 28.44, 35.15
	assert.Positive(t, at(all, si111))
	assert.Positive(t, at(all, corundum104))
	assert.Less(t, at(without, si111), 0.05*at(all, si111), "what the candidate explains is not in doubt")
	assert.Equal(t, at(all, corundum104), at(without, corundum104), "what it does not explain is")
	assert.Zero(t, at(all, 32), "background is not in doubt")
}

func TestFirstLook(t *testing.T) {
	falling := func(x float64) float64 { // scatter and a halo
		return 20 + 900*math.Exp(-(x-5)/6) + 150*math.Exp(-(x-22)*(x-22)/40)
	}
	job := specimen{parts: []part{{"silicon", 300, 0}}, lo: 8, background: falling, seed: 2}.job(t, library.Starter())
	got := firstLook(job.Setup)
	for i, x := range job.Setup.TwoTheta {
		if x > 9 && x < 98 {
			assert.InDelta(t, falling(x), got[i], 5*math.Sqrt(falling(x)), "at %g°", x)
		}
	}
}

func TestFirstSigma(t *testing.T) {
	set := specimen{}.job(t, library.Starter()).Setup
	for _, s := range firstSigma(set) {
		assert.InDelta(t, math.Sqrt(30), s, 2.5) // mean of five counts of 30
	}
	set.Gain = 0
	assert.Equal(t, set.Sigma, firstSigma(set), "what was recorded stands")
}

// Lines that lie off by more than their variances allow make differences between explanations say as much less.
func TestCompareAllowsForLineScatter(t *testing.T) {
	lib := library.Starter()
	fit := func(id string, factor float64) *pattern.Fit {
		job := specimen{parts: []part{{"copper", 300, 0}}, seed: 31}.job(t, lib)
		for i, x := range job.Setup.TwoTheta {
			if math.Abs(x-50.4) < 1 { // 200, as few grains make it
				job.Setup.Intensity[i] = 30 + factor*(job.Setup.Intensity[i]-30)
			}
		}
		job.Filter = Filter{Require: []string{id}}
		all := make([]string, 0, lib.Len())
		for i := range lib.Len() {
			if e := lib.Entry(i); e.ID != id {
				all = append(all, e.ID)
			}
		}
		job.Filter.Exclude = all
		return run(t, job).Fit
	}
	fine, coarse := fit("copper", 1), fit("copper", 1.8)
	assert.Less(t, lineScatter(fine), 2.0)
	assert.Greater(t, lineScatter(coarse), 3.0)
	other := fit("nickel", 1.8)
	list := []attempt{{fit: other}, {fit: coarse}}
	compare(list)
	least := coarse
	if sumSquares(other, other.Noise) < sumSquares(coarse, coarse.Noise) {
		least = other
	}
	apart := sumSquares(other, least.Variance) - sumSquares(coarse, least.Variance)
	require.Greater(t, lineScatter(least), 2.0)
	assert.InDelta(t, apart/lineScatter(least), list[0].deviance-penalty(other)-list[1].deviance+penalty(coarse), 1e-6*math.Abs(apart))
	assert.Equal(t, 1.0, lineScatter(&pattern.Fit{Setup: pattern.Setup{TwoTheta: []float64{20, 21}}}), "no line, no scatter")
}
