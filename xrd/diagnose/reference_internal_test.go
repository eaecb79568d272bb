package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

func lineOf(h, k, l int, d, observed float64) pattern.LineFit {
	return pattern.LineFit{Line: refdata.Line{D: d, Families: []refdata.Family{{H: h, K: k, L: l}}}, Expected: 100, Fitted: 100, Observed: observed, ObservedU: 1, Clear: 1, Covered: true}
}

// TestOrders: lines of the same planes belong together, those with an order alone, of several families, weak or buried do not.
func TestOrders(t *testing.T) {
	twice := lineOf(3, 3, 3, 1, 100)
	twice.Line.Families = append(twice.Line.Families, refdata.Family{H: 5, K: 1, L: 1})
	buried := lineOf(1, 0, 0, 3, 100)
	buried.Clear = 0.3
	weak := lineOf(2, 2, 0, 1.2, 100)
	weak.ObservedU = 30
	got := orders([]pattern.LineFit{lineOf(0, 0, 2, 2.6, 130), lineOf(0, 0, -4, 1.3, 80), lineOf(0, 0, 4, 1.3, 80), lineOf(1, 1, 1, 2, 100), twice, buried, lineOf(2, 0, 0, 1.5, 100), weak, lineOf(1, 1, 0, 2.4, 100)})
	assert.Len(t, got, 1)
	list := got[[3]int{0, 0, 1}]
	assert.Len(t, list, 2)
	assert.InDelta(t, math.Log(1.3), list[0].ratio, 1e-12)
	assert.InDelta(t, 1/(4*2.6*2.6), list[0].s2, 1e-12)
}

// TestDisagreement: two orders by hand. With ln ratios 0.2 and −0.2, each scattering by 0.05, and a displacement parameter that
// cannot move them (same s²), χ² = 0.4²/(2·0.05²) = 32 on one degree of freedom.
func TestDisagreement(t *testing.T) {
	groups := map[[3]int][]order{{0, 0, 1}: {{0, 0, 2, 0.2, 0, 0.04}, {0, 0, 4, -0.2, 0, 0.04}}}
	chi2, free, worst := disagreement(groups, 0.05)
	assert.InDelta(t, 32, chi2, 1e-9)
	assert.InDelta(t, 1, free, 0)
	assert.InDelta(t, 0.4, math.Abs(worst[0].ratio-worst[1].ratio), 1e-12)
	// Over 0.1 Å⁻² a displacement parameter moves the difference by 2·0.5·0.1 (one standard deviation): χ² = 0.4²/(2·0.05² + 0.1²).
	groups[[3]int{0, 0, 1}][1].s2 = 0.14
	chi2, _, _ = disagreement(groups, 0.05)
	assert.InDelta(t, 0.16/(2*0.05*0.05+0.01), chi2, 1e-9)
}

// TestDisagreementByChance: Gaussian scatter is told as such: χ² over its degrees of freedom follows its distribution.
func TestDisagreementByChance(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 9))
	const n = 4000
	var beyond int
	for range n {
		groups := map[[3]int][]order{}
		b := 2 * orderB * rnd.NormFloat64()
		for g := range 4 {
			var list []order
			for k := range 2 + g%2 {
				s2 := 0.03 * float64((k+1)*(k+1))
				list = append(list, order{0, g, k, 0.05*rnd.NormFloat64() + b*s2, 0, s2})
			}
			groups[[3]int{g, 1, 0}] = list
		}
		chi2, free, _ := disagreement(groups, 0.05)
		if (distuv.ChiSquared{K: free}).Survival(chi2) < 0.01 {
			beyond++
		}
	}
	assert.InDelta(t, 0.01*n, float64(beyond), 4*math.Sqrt(0.01*n))
}
