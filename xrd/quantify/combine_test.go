package quantify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
			in.More = append(in.More, quantify.Scan{Fit: f})
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
	// τ² rests on one degree of freedom, the rest (ratios 5 % each: 1.6 wt%; counting 0.5) on many: (5.0² + 1.7²)²/5.0⁴ = 1.24,
	// Student's 8.2; in the logit ln 1.871 − 8.2·5.3/22.7 = −1.29, 21.6 wt%.
	assert.InDelta(t, 21.6, a.Fractions[0].Weight.Lo, 0.5)
}

// TestJointSpread draws three scans of unequal quality many times: the joint fraction spreads as the budget says.
func TestJointSpread(t *testing.T) {
	u := [][]float64{{0.7, 0.6}, {1.4, 0.6}, {0.35, 0.9}}
	in := twoPhases(t, [][]float64{{70, 30}, {140, 60}, {35, 15}}, u)
	fits := []*pattern.Fit{in.Fit, in.More[0].Fit, in.More[1].Fit}
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
	first := seen(exact(t, phases, []float64{70, 30, 0}, []float64{0.7, 0.6, 0}))
	first.ZeroU[2] = 0.5
	second := seen(exact(t, []refdata.Phase{phases[2], phases[0]}, []float64{0, 140}, []float64{0, 1.4})) // another order, one fewer
	second.ZeroU[0] = 1
	a := quantify.Run(quantify.Input{Fit: first, More: []quantify.Scan{{Fit: second}}, Roles: make([]quantify.Role, 3), Threshold: 4})
	assert.InDelta(t, 70, a.Fractions[0].Weight.Percent, 1e-6)
	assert.Zero(t, a.Fractions[2].Weight.Percent)
	assert.Zero(t, a.Repeats.Freedom, "three amounts, two phases that are there, one factor")
	// The second scan is twice as strong: two zeros of ±0.5 in units of the first, 0.354 together; (4 + 1.645)·0.354 beside 100. That is
	// what the whole pattern needs; its lines must be seen as well.
	assert.Greater(t, a.Fractions[2].Limit, 100*1.996/101.996)
	assert.Less(t, a.Fractions[2].Limit, 2*100*1.996/101.996)
}

// drawn is a specimen of several phases in two to four scans of one random quality each, with optics, grains and unexplained
// intensity; the last phase is Absent and shows a little of itself in some scans.
func drawn(t *testing.T, rnd *rand.Rand) quantify.Input {
	in := quantify.Input{Threshold: 4, Roles: []quantify.Role{quantify.Specimen, quantify.Specimen, quantify.Preparation, quantify.Absent}, Grain: []float64{3, 0, 2, 5}}
	var phases []refdata.Phase
	for k := range in.Roles {
		p := invented(k, 1+rnd.Float64())
		p.Density, p.MassAbsorption = 4+rnd.Float64(), 20+200*rnd.Float64()
		phases = append(phases, p)
	}
	fit := exact(t, phases, []float64{70, 30, 3, 1}, []float64{1, 1, 1, 1})
	scans := 2 + rnd.IntN(3)
	for i := range scans {
		strength := math.Exp(rnd.NormFloat64())
		s := []float64{70 * strength * math.Exp(0.1*rnd.NormFloat64()), 30 * strength * math.Exp(0.1*rnd.NormFloat64()), 3 * strength * rnd.Float64(), 0}
		u := []float64{0.02 * s[0], 0.03 * s[1], 0.3 * strength, 0.2 * strength}
		if rnd.IntN(3) == 0 {
			s[2] = 0 // what another scan shows
		}
		if rnd.IntN(2) == 0 {
			s[3] = 0.1 * strength * rnd.Float64()
		}
		f := *fit
		f.Scales, f.ZeroU, f.ScaleCov = s, u, make([][]float64, len(u))
		for k := range u {
			f.ScaleCov[k] = make([]float64, len(u))
			f.ScaleCov[k][k] = u[k] * u[k]
		}
		scan := quantify.Scan{Fit: &f, Unexplained: 0.05 * rnd.Float64(), Optics: []float64{0.01 * rnd.NormFloat64(), 0.01 * rnd.NormFloat64(), 0, 0}}
		if i == 0 {
			in.Fit, in.Unexplained, in.Optics = scan.Fit, scan.Unexplained, scan.Optics
		} else {
			in.More = append(in.More, scan)
		}
	}
	return in
}

// reversed is an input with its scans in the opposite order.
func reversed(in quantify.Input) quantify.Input {
	all := append([]quantify.Scan{{Fit: in.Fit, Unexplained: in.Unexplained, Optics: in.Optics}}, in.More...)
	slices.Reverse(all)
	in.Fit, in.Unexplained, in.Optics, in.More = all[0].Fit, all[0].Unexplained, all[0].Optics, all[1:]
	return in
}

// without is an input in which the last phase was never named.
func without(in quantify.Input) quantify.Input {
	n := len(in.Roles) - 1
	cut := func(f *pattern.Fit) *pattern.Fit {
		g := *f
		g.Setup.Phases, g.Scales, g.ZeroU, g.Curves = f.Setup.Phases[:n], f.Scales[:n], f.ZeroU[:n], f.Curves[:n]
		return &g
	}
	in.Roles, in.Grain, in.Fit, in.Optics = in.Roles[:n], in.Grain[:n], cut(in.Fit), in.Optics[:n]
	in.More = slices.Clone(in.More)
	for i, s := range in.More {
		in.More[i] = quantify.Scan{Fit: cut(s.Fit), Unexplained: s.Unexplained, Optics: s.Optics[:n]}
	}
	return in
}

// sameValue holds two values against each other to 1e-9; that of nothing equals itself.
func sameValue(t *testing.T, want, got float64, msg ...any) {
	t.Helper()
	if math.IsNaN(want) || math.IsInf(want, 0) {
		assert.Equal(t, fmt.Sprint(want), fmt.Sprint(got), msg...)
		return
	}
	assert.InDelta(t, want, got, 1e-9*math.Max(1, math.Abs(want)), msg...)
}

// sameAnswer holds the phases of two answers against each other. Ends below are those of what may hide as well: a phase that
// was named and not seen lowers them on purpose.
func sameAnswer(t *testing.T, want, got quantify.Answer, phases int, lower bool) {
	t.Helper()
	for p := range phases {
		a, b := want.Fractions[p], got.Fractions[p]
		sameValue(t, a.Limit, b.Limit, "limit of %d", p)
		for k, v := range []quantify.Value{a.Weight, a.Volume, a.Coarse} {
			w := []quantify.Value{b.Weight, b.Volume, b.Coarse}[k]
			sameValue(t, v.Percent, w.Percent, "value %d of %d", k, p)
			sameValue(t, v.Hi, w.Hi, "upper end %d of %d", k, p)
			if lower || k > 0 {
				sameValue(t, v.Lo, w.Lo, "lower end %d of %d", k, p)
			}
		}
		require.Len(t, b.Budget, len(a.Budget))
		for k, s := range a.Budget {
			if lower || s.Name != "unexplained intensity" {
				sameValue(t, s.U, b.Budget[k].U, "%s of %d", s.Name, p)
			}
		}
	}
	sameValue(t, want.Repeats.ChiSquare, got.Repeats.ChiSquare)
	sameValue(t, want.Repeats.Between, got.Repeats.Between)
	assert.Equal(t, want.Repeats.Freedom, got.Repeats.Freedom)
}

// TestOrderOfScans: scans are equals, whatever they show.
func TestOrderOfScans(t *testing.T) {
	rnd := rand.New(rand.NewPCG(12, 1))
	for range 8 {
		in := drawn(t, rnd)
		a, b := quantify.Run(in), quantify.Run(reversed(in))
		sameAnswer(t, a, b, len(in.Roles), true)
		watched := []quantify.Watched{{Phase: starter(t, "quartz"), Grain: 4}}
		sameValue(t, quantify.DetectionLimits(in, watched)[0], quantify.DetectionLimits(reversed(in), watched)[0])
	}
}

// TestAbsentPhaseChangesNothing: a phase that was named and is not there takes no part in what scans differ by.
func TestAbsentPhaseChangesNothing(t *testing.T) {
	rnd := rand.New(rand.NewPCG(12, 2))
	for range 8 {
		in := drawn(t, rnd)
		a, b := quantify.Run(in), quantify.Run(without(in))
		sameAnswer(t, b, a, len(in.Roles)-1, false)
		assert.Greater(t, a.Fractions[3].Limit, 0.0)
	}
}

// TestScansWithoutPhaseInCommon: one scan tells of one phase, the other of another: nothing is known of their ratio.
func TestScansWithoutPhaseInCommon(t *testing.T) {
	in := twoPhases(t, [][]float64{{70, 0}, {0, 40}}, [][]float64{{0.7, 0}, {0, 0.8}})
	in.Fit.ZeroU, in.More[0].Fit.ZeroU = []float64{1, math.Inf(1)}, []float64{math.Inf(1), 1}
	a := quantify.Run(in)
	assert.True(t, math.IsNaN(a.Fractions[0].Weight.Percent))
	assert.True(t, math.IsNaN(a.Fractions[0].Limit))
	// A scan that says nothing at all changes nothing.
	in.Fit.ZeroU, in.Fit.Scales = []float64{1, 1}, []float64{70, 30}
	in.More[0].Fit.ZeroU = []float64{math.Inf(1), math.Inf(1)}
	assert.InDelta(t, 70, quantify.Run(in).Fractions[0].Weight.Percent, 1e-9)
	in = reversed(in)
	assert.InDelta(t, 70, quantify.Run(in).Fractions[0].Weight.Percent, 1e-9)
}
