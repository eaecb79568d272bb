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

// weighed is a mixture of some invented phases with stated scales and relative uncertainties.
func weighed(t testing.TB, numbers []int, scales []float64, relative float64, percent ...float64) quantify.Weighed {
	t.Helper()
	var phases []refdata.Phase
	u := make([]float64, len(scales))
	for i, n := range numbers {
		phases = append(phases, invented(n, 1))
		u[i] = relative * scales[i]
	}
	return quantify.Weighed{Input: quantify.Input{Fit: exact(t, phases, scales, u), Roles: make([]quantify.Role, len(scales)), Threshold: 4}, Percent: percent}
}

// TestFactorOfOneMixture by hand: 70:30 is seen where 60:40 was weighed, so that the second shows (30/40)/(70/60) = 9/14 of what
// it should against the first. Counting of 1 % each and, since one mixture tells nothing of
// its repeats, 2 % of each for a mount make √10 % of the ratio; its lines do not scatter.
func TestFactorOfOneMixture(t *testing.T) {
	m := weighed(t, []int{0, 1}, []float64{70, 30}, 0.01, 60, 40)
	f, err := quantify.FitFactors([]quantify.Weighed{m}, "")
	require.NoError(t, err)
	assert.Equal(t, "invented-0", f.Reference)
	assert.InDelta(t, 1, f.List[0].Value, 1e-12)
	assert.InEpsilon(t, 9./14, f.List[1].Value, 1e-9)
	_, u, ok := f.Of("INVENTED-1")
	require.True(t, ok)
	assert.InEpsilon(t, math.Sqrt(10)*0.01, u, 1e-3)
	assert.InEpsilon(t, 0.02, f.Repeatability, 1e-3)
	assert.InDelta(t, 0, f.Covariance[0][0], 1e-12)
	assert.Nil(t, quantify.LeaveOneOut([]quantify.Weighed{m})[0], "one mixture cannot check itself")
	m.U = []float64{0, 0.4} // 1 % of 40
	f, err = quantify.FitFactors([]quantify.Weighed{m}, "invented-1")
	require.NoError(t, err)
	_, u, _ = f.Of("invented-0")
	assert.InEpsilon(t, 14./9, f.List[0].Value, 1e-9)
	assert.InEpsilon(t, math.Sqrt(11)*0.01, u, 1e-3, "weighing of 1 % beside the rest")
}

// TestFactorsGoBack: with its own factors a mixture is what was weighed, and the choice of the reference changes no fraction and no
// interval, also beside a phase without a factor.
func TestFactorsGoBack(t *testing.T) {
	mixtures := []quantify.Weighed{
		weighed(t, []int{0, 1, 2}, []float64{50, 30, 20}, 0.01, 40, 40, 20),
		weighed(t, []int{2, 0}, []float64{53, 35}, 0.02, 65, 35),
	}
	var percent [2][]quantify.Value
	for k, reference := range []string{"invented-0", "invented-2"} {
		f, err := quantify.FitFactors(mixtures, reference)
		require.NoError(t, err)
		in := mixtures[0].Input
		corrected(t, &in, f)
		for _, x := range quantify.Run(in).Fractions {
			percent[k] = append(percent[k], x.Weight)
		}
	}
	for i := range percent[0] {
		assert.InDelta(t, percent[0][i].Percent, percent[1][i].Percent, 1e-6)
		assert.InDelta(t, percent[0][i].Lo, percent[1][i].Lo, 1e-6)
		assert.InDelta(t, percent[0][i].Hi, percent[1][i].Hi, 1e-6)
		assert.InDelta(t, mixtures[0].Percent[i], percent[0][i].Percent, 1, "the second mixture departs a little")
	}
}

// corrected gives the phases of an input the factors that analyses give them.
func corrected(t *testing.T, in *quantify.Input, f quantify.Factors) {
	t.Helper()
	fit := *in.Fit
	fit.Setup.Phases = nil
	for _, p := range in.Fit.Setup.Phases {
		once, ok := f.Apply(p)
		require.True(t, ok)
		twice, again := f.Apply(once)
		assert.False(t, again, "a factor counts once")
		assert.InDelta(t, once.RIR.Value, twice.RIR.Value, 0)
		fit.Setup.Phases = append(fit.Setup.Phases, once)
	}
	in.Fit, in.Corrected = &fit, &f
}

// TestFactorsOfRepeats draws mixtures whose amounts depart by 3 % from true factors: factors spread about the truth as their
// uncertainties say, and one more mixture departs from them by what is told.
func TestFactorsOfRepeats(t *testing.T) {
	truth := []float64{1, 0.9, 1.2}
	composition := [][]float64{{20, 30, 50}, {50, 30, 20}, {30, 50, 20}, {33, 33, 34}, {60, 20, 20}}
	var mixtures []quantify.Weighed
	for _, w := range composition {
		mixtures = append(mixtures, weighed(t, []int{0, 1, 2}, []float64{1, 1, 1}, 0, w...))
	}
	rnd := rand.New(rand.NewPCG(5, 8))
	const n, departs = 400, 0.03
	var repeat, squares, stated float64
	for range n {
		for i, w := range composition {
			for p := range w {
				mixtures[i].Fit.Scales[p] = w[p] * truth[p] * math.Exp(departs*rnd.NormFloat64())
				mixtures[i].Fit.ScaleCov[p][p] = math.Pow(1e-3*mixtures[i].Fit.Scales[p], 2)
			}
		}
		f, err := quantify.FitFactors(mixtures, "invented-0")
		require.NoError(t, err)
		repeat += f.Repeatability * f.Repeatability
		squares += math.Pow(math.Log(f.List[2].Value/truth[2]), 2)
		stated += f.Covariance[2][2]
	}
	t.Logf("repeatability %.4f, factors spread by %.4f, stated %.4f", math.Sqrt(repeat/n), math.Sqrt(squares/n), math.Sqrt(stated/n))
	assert.InEpsilon(t, math.Sqrt((8*departs*departs+0.02*0.02)/9), math.Sqrt(repeat/n), 0.06, "eight degrees of freedom and one of a guess")
	assert.InEpsilon(t, departs*math.Sqrt(2./5), math.Sqrt(squares/n), 0.12)
	assert.InEpsilon(t, math.Sqrt(squares/n), math.Sqrt(stated/n), 0.15)
}

func TestLeaveOneOut(t *testing.T) {
	mixtures := []quantify.Weighed{
		weighed(t, []int{0, 1}, []float64{60, 20}, 0.01, 50, 50), // the second at 1/3
		weighed(t, []int{1, 0}, []float64{10, 70}, 0.01, 30, 70), // at 1/3, too
		weighed(t, []int{0, 2}, []float64{50, 50}, 0.01, 50, 50),
	}
	got := quantify.LeaveOneOut(mixtures)
	require.NotNil(t, got[0])
	assert.InDelta(t, 75, got[0].Before[0], 1e-6)
	assert.InDelta(t, 50, got[0].After[0], 1e-6)
	require.NotNil(t, got[1])
	assert.InDelta(t, 12.5, got[1].Before[0], 1e-6)
	assert.InDelta(t, 30, got[1].After[0], 1e-6)
	assert.Nil(t, got[2], "no other mixture has the third phase")
}

func TestFactorsRefuse(t *testing.T) {
	a := weighed(t, []int{0, 1}, []float64{60, 20}, 0.01, 50, 50)
	b := weighed(t, []int{2, 3}, []float64{60, 20}, 0.01, 50, 50)
	_, err := quantify.FitFactors([]quantify.Weighed{a, b}, "")
	require.ErrorIs(t, err, quantify.ErrUnlinked)
	assert.ErrorContains(t, err, "invented-0, invented-1 | invented-2, invented-3")
	_, err = quantify.FitFactors([]quantify.Weighed{a}, "elsewhere")
	require.ErrorIs(t, err, quantify.ErrFactor)
	a.Fit.Scales = []float64{60, 0}
	_, err = quantify.FitFactors([]quantify.Weighed{a}, "")
	require.ErrorIs(t, err, quantify.ErrFactor)
	assert.ErrorContains(t, err, "invented-1")
	_, err = quantify.FitFactors(nil, "")
	assert.Error(t, err)
}

// TestFactorBudget: reference intensity ratios of 5 % each are in the budget without factors (25 wt%·√2·5 % = 1.77) and
// not with them, where the factor's own uncertainty and the repeats of mixtures stand instead; a phase without a factor keeps its own.
func TestFactorBudget(t *testing.T) {
	m := weighed(t, []int{0, 1, 2}, []float64{50, 50, 0.001}, 0.01, 50, 50, 0)
	f, err := quantify.FitFactors([]quantify.Weighed{m}, "invented-0")
	require.NoError(t, err)
	in := weighed(t, []int{0, 1}, []float64{50, 50}, 0.01, 50, 50).Input
	before := quantify.Run(in).Fractions[0]
	assert.InEpsilon(t, 25*math.Sqrt2*0.05, sourceU(before, "reference intensity ratio"), 1e-6)
	assert.True(t, math.IsNaN(sourceU(before, "factors from weighed mixtures")))
	corrected(t, &in, f)
	after := quantify.Run(in).Fractions[0]
	assert.InDelta(t, 0, sourceU(after, "reference intensity ratio"), 1e-9)
	assert.InEpsilon(t, 25*math.Sqrt(10)*0.01, sourceU(after, "factors from weighed mixtures"), 1e-2)
	assert.InEpsilon(t, 25*math.Sqrt2*0.02, sourceU(after, "repeatability of weighed mixtures"), 0.01)
	f.Repeatability = 0.04
	in.Corrected = &f
	assert.InEpsilon(t, 25*math.Sqrt2*0.04, sourceU(quantify.Run(in).Fractions[0], "repeatability of weighed mixtures"), 1e-6)
	mixed := weighed(t, []int{0, 3}, []float64{50, 50}, 0.01, 50, 50).Input
	mixed.Corrected = &f
	assert.InEpsilon(t, 25*math.Sqrt2*0.05, sourceU(quantify.Run(mixed).Fractions[0], "reference intensity ratio"), 1e-6, "the reference's and its own")
}

// TestScatterBeyondMixtures: of the scatter of lines only what exceeds that in the mixtures is left beside factors.
func TestScatterBeyondMixtures(t *testing.T) {
	const source = "scatter of lines (texture, grains, profile)"
	m := weighed(t, []int{0, 1}, []float64{500, 500}, 0.01, 50, 50)
	seen(m.Fit)
	for i, y := range m.Fit.Curves[0] {
		if m.Fit.Setup.TwoTheta[i] < 30 {
			m.Fit.Setup.Intensity[i] += 0.4 * y
		}
	}
	without := sourceU(quantify.Run(m.Input).Fractions[0], source)
	require.Greater(t, without, 0.2)
	for _, c := range []struct{ inMixtures, left float64 }{{0, without}, {10, 0}} {
		in := m.Input
		f := quantify.Factors{Reference: "invented-0", RepeatFreedom: 5, Covariance: [][]float64{{0, 0}, {0, 0}},
			List: []quantify.Factor{{ID: "invented-0", Value: 1, Scatter: c.inMixtures}, {ID: "invented-1", Value: 1, Scatter: c.inMixtures}}}
		corrected(t, &in, f)
		assert.InDelta(t, c.left, sourceU(quantify.Run(in).Fractions[0], source), 1e-6)
	}
}

// TestMixturesContradict: three mixtures whose lines do not scatter and whose mounts repeat within 2 %, the values of two of them
// exchanged. Two mixtures compare by one degree of freedom: by hand, ln (80/20) − ln (70/30) = 0.54 is wrong in both, with
// opposite signs, so that each of the four amounts departs by 0.54.
func TestMixturesContradict(t *testing.T) {
	scan := func(a, b, wa, wb float64) quantify.Weighed {
		m := weighed(t, []int{0, 1}, []float64{a, b}, 1e-4, wa, wb)
		seen(m.Fit)
		return m
	}
	right := []quantify.Weighed{scan(50, 25, 50, 50), scan(20.2, 40, 20, 80), scan(30, 34.8, 30, 70)}
	f, err := quantify.FitFactors(right, "")
	require.NoError(t, err)
	assert.False(t, f.Contradict(quantify.LeaveOneOut(right)))
	assert.Greater(t, f.Agreement, 0.05)
	_, _, ok := f.Exchanged(right)
	assert.False(t, ok, "they agree")

	wrong := []quantify.Weighed{scan(50, 25, 50, 50), scan(20.2, 40, 30, 70), scan(30, 34.8, 20, 80)}
	f, err = quantify.FitFactors(wrong, "")
	require.NoError(t, err)
	assert.Less(t, f.Agreement, 1e-3)
	assert.False(t, f.Contradict(quantify.LeaveOneOut(wrong)), "a factor of 2 is better than none even so")
	a, b, ok := f.Exchanged(wrong)
	require.True(t, ok)
	assert.Equal(t, [2]int{1, 2}, [2]int{a, b})

	f, err = quantify.FitFactors(wrong[1:], "")
	require.NoError(t, err)
	assert.InDelta(t, math.Sqrt((0.539*0.539+0.02*0.02)/2), f.Repeatability, 0.015, "by one degree of freedom, joined with a guess by another")
	assert.True(t, f.Contradict(quantify.LeaveOneOut(wrong[1:])))
	f.Repeatability, f.Agreement = 1, 1
	assert.True(t, f.Contradict(nil), "as much as the amounts")
	f.Repeatability = math.NaN()
	assert.True(t, f.Contradict(nil))
}

func ExampleFactors_Apply() {
	f := quantify.Factors{Reference: "calcite", List: []quantify.Factor{{ID: "calcite", Value: 1}, {ID: "gibbsite", Value: 0.96}}, Covariance: [][]float64{{0, 0}, {0, 4e-4}}}
	p, _ := f.Apply(refdata.Phase{ID: "gibbsite", RIR: refdata.RIR{Value: 2}})
	fmt.Printf("%.2f ± %.0f %%\n", p.RIR.Value, 100*p.RIR.RelU)
	// Output: 1.92 ± 2 %
}

// TestDeparting by hand: of two phases each mixture tells one logarithm of a ratio. Four of −0.02, 0, 0 and 0.02 have squares of 0.0008 about
// their mean, three degrees of freedom; with one of 0.2 the squares are 0.0328, F = 0.0320/(0.0008/3) = 120, of which the chance is
// 0.0016, and 0.008 for five; with one of 0.15 F is 67.5, 0.0038 and 0.019.
func TestDeparting(t *testing.T) {
	set := func(logs ...float64) (out []quantify.Weighed) {
		for _, y := range logs {
			out = append(out, weighed(t, []int{0, 1}, []float64{50 * math.Exp(y/2), 50 * math.Exp(-y/2)}, 1e-6, 50, 50))
		}
		return out
	}
	i, ok := quantify.Departing(set(-0.02, 0, 0.2, 0, 0.02))
	assert.True(t, ok)
	assert.Equal(t, 2, i)
	_, ok = quantify.Departing(set(-0.02, 0, 0.15, 0, 0.02))
	assert.False(t, ok)
	_, ok = quantify.Departing(set(-0.02, 0, 0, 0.02))
	assert.False(t, ok)
	_, ok = quantify.Departing(set(0, 0.001, 5))
	assert.False(t, ok, "of three, two others tell nothing of how much they differ")
	_, ok = quantify.Departing(nil)
	assert.False(t, ok)
	_, ok = quantify.Departing(append(set(0, 0, 0), weighed(t, []int{2, 3}, []float64{5, 5}, 0.01, 50, 50)))
	assert.False(t, ok, "what shares no phase is compared with nothing")
}
