package quantify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// twoPhases are fits of one specimen: scales and their standard uncertainties, scan by scan.
func twoPhases(t testing.TB, scales, u [][]float64) quantify.Input {
	t.Helper()
	in := quantify.Input{Roles: make([]quantify.Role, 2), Threshold: 4}
	for i := range scales {
		f := exact(t, []refdata.Phase{invented(0, 1), invented(1, 1)}, scales[i], u[i])
		if i == 0 {
			in.Fit = f
		} else {
			in.More = append(in.More, f)
		}
	}
	return in
}

func sourceU(f quantify.Fraction, name string) float64 {
	for _, s := range f.Budget {
		if s.Name == name {
			return s.U
		}
	}
	return math.NaN()
}

// TestJointOfEqualScans by hand: 70:30 twice, the second scan twice as strong with the same relative uncertainties, 1 % and
// 2 %. The counting part of one scan is 21 wt%·√(1e-4 + 4e-4) = 0.4696; two scans have 1/√2 of it.
func TestJointOfEqualScans(t *testing.T) {
	in := twoPhases(t, [][]float64{{70, 30}, {140, 60}}, [][]float64{{0.7, 0.6}, {1.4, 1.2}})
	a := quantify.Run(in)
	assert.InDelta(t, 70, a.Fractions[0].Weight.Percent, 1e-6)
	require.NotNil(t, a.Repeats)
	assert.Equal(t, 2, a.Repeats.Scans)
	assert.Equal(t, 1, a.Repeats.Freedom, "four amounts, two phases, one factor")
	assert.InDelta(t, 0, a.Repeats.ChiSquare, 1e-9)
	assert.InDelta(t, 1, a.Repeats.P, 1e-4)
	assert.Zero(t, a.Repeats.Between)
	assert.InEpsilon(t, 21*math.Sqrt(5e-4)/math.Sqrt2, sourceU(a.Fractions[0], "counting and overlap"), 1e-4)
	assert.InDelta(t, 0, sourceU(a.Fractions[0], "between scans (mounts, sections)"), 1e-9)
	alone := quantify.Run(quantify.Input{Fit: in.Fit, Roles: in.Roles, Threshold: 4})
	assert.Nil(t, alone.Repeats)
	assert.InEpsilon(t, alone.Fractions[0].Limit/math.Sqrt2, a.Fractions[0].Limit, 0.5, "two scans see a little less")
	assert.InEpsilon(t, sourceU(alone.Fractions[0], "reference intensity ratio"), sourceU(a.Fractions[0], "reference intensity ratio"), 1e-6, "ratios do not average out")
}

// TestJointOfDifferentScans by hand: ratios of 70:30 and 60:40 differ by D = ln(7/3) − ln(3/2) = 0.4418. Each ln ratio has
// 1e-4 + 4e-4 of counting, so with τ on each amount D² = 2·5e-4 + 4 τ² at the Paule–Mandel solution: τ = 0.2203. The joint
// ratio is about the mean, √(7/3 · 3/2) = 1.871, 65.2 wt%.
func TestJointOfDifferentScans(t *testing.T) {
	in := twoPhases(t, [][]float64{{70, 30}, {60, 40}}, [][]float64{{0.7, 0.6}, {0.6, 0.8}})
	a := quantify.Run(in)
	d := math.Log(7./3) - math.Log(3./2)
	want := math.Sqrt((d*d - 2*5e-4) / 4)
	assert.InEpsilon(t, want, a.Repeats.Between, 0.02, "to second order in D")
	assert.InDelta(t, 65.2, a.Fractions[0].Weight.Percent, 0.3)
	assert.InEpsilon(t, d*d/(2*5e-4), a.Repeats.ChiSquare, 0.1)
	assert.Less(t, a.Repeats.P, 1e-6)
	// Between two scans: τ on each of two amounts in each of two scans is τ of the mean ratio, 65.2·34.8/100 = 22.7 wt% of it.
	assert.InEpsilon(t, 22.7*want, sourceU(a.Fractions[0], "between scans (mounts, sections)"), 0.03)
	// One degree of freedom: Student's 12.7, held to 0 and 100.
	assert.Less(t, a.Fractions[0].Weight.Lo, 20.0)
}

// TestJointSpread draws three scans of unequal quality many times: the joint fraction spreads as the budget says.
func TestJointSpread(t *testing.T) {
	u := [][]float64{{0.7, 0.6}, {1.4, 0.6}, {0.35, 0.9}}
	in := twoPhases(t, [][]float64{{70, 30}, {140, 60}, {35, 15}}, u)
	fits := append([]*pattern.Fit{in.Fit}, in.More...)
	truth := [][]float64{{70, 30}, {140, 60}, {35, 15}}
	rnd := rand.New(rand.NewPCG(7, 7))
	const n = 600
	var sum, squares, stated float64
	for range n {
		for i, f := range fits {
			f.Scales = []float64{truth[i][0] + u[i][0]*rnd.NormFloat64(), truth[i][1] + u[i][1]*rnd.NormFloat64()}
		}
		got := quantify.Run(in).Fractions[0]
		w, c, b := got.Weight.Percent, sourceU(got, "counting and overlap"), sourceU(got, "between scans (mounts, sections)")
		sum += w
		squares += w * w
		stated += c*c + b*b
	}
	spread := math.Sqrt(squares/n - sum/n*sum/n)
	assert.InDelta(t, 70, sum/n, 4*spread/math.Sqrt(n))
	t.Logf("stated %.3f, spread %.3f wt%%", math.Sqrt(stated/n), spread)
	// Sampled standard deviations are good to 1/√(2n) = 3 %; what is stated between scans is rather too large, since it is never negative.
	assert.Greater(t, math.Sqrt(stated/n), 0.94*spread)
	assert.Less(t, math.Sqrt(stated/n), 1.5*spread)
}

// TestJointWithGaps: a phase that one scan does not have rests on the other; one that no scan shows is 0 with a limit.
func TestJointWithGaps(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1), invented(2, 1)}
	first := exact(t, phases, []float64{70, 30, 0}, []float64{0.7, 0.6, 0})
	first.ZeroU[2] = 0.5
	second := exact(t, []refdata.Phase{phases[2], phases[0]}, []float64{0, 140}, []float64{0, 1.4}) // another order, one fewer
	second.ZeroU[0] = 1
	a := quantify.Run(quantify.Input{Fit: first, More: []*pattern.Fit{second}, Roles: make([]quantify.Role, 3), Threshold: 4})
	assert.InDelta(t, 70, a.Fractions[0].Weight.Percent, 1e-6)
	assert.Zero(t, a.Fractions[2].Weight.Percent)
	assert.Equal(t, 1, a.Repeats.Freedom)
	// The second scan is twice as strong: two zeros of ±0.5 in units of the first, 0.354 together; (4 + 1.645)·0.354 beside 100.
	assert.InDelta(t, 100*1.996/101.996, a.Fractions[2].Limit, 0.02)
}
