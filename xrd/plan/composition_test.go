package plan_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/plan"
)

// Bronze with 20 wt% tin as copper and Cu3Sn: Cu3Sn has 118.71/(3·63.546 + 118.71) = 0.38375 of tin (standard atomic masses), so that
// 20/0.38375 = 52.12 wt% of it hold all.
func TestAmountsByHand(t *testing.T) {
	phases := request(t, []float64{50, 50}, "copper", "cu3sn-epsilon").Tubes[0].Phases
	w, err := plan.Amounts(phases, []plan.Element{{"Cu", 80, 0.5}, {"Sn", 20, 0.5}})
	require.NoError(t, err)
	assert.InDelta(t, 52.12, w[1], 0.02)
	assert.InDelta(t, 47.88, w[0], 0.02)
	one, err := plan.Amounts(phases, []plan.Element{{"sn", 20, 0.5}})
	require.NoError(t, err)
	assert.InDelta(t, w[1], one[1], 0.02, "one element and the sum are enough")
}

// What a mixture has is solved back, whatever the mixture.
func TestAmountsRoundTrip(t *testing.T) {
	phases := request(t, []float64{25, 25, 25, 25}, "copper", "cuprite", "quartz", "calcite").Tubes[0].Phases
	rng := rand.New(rand.NewPCG(4, 4))
	for range 200 {
		var truth [4]float64
		var sum float64
		for p := range truth {
			truth[p] = rng.ExpFloat64()
			sum += truth[p]
		}
		has := map[string]float64{}
		for p, phase := range phases {
			truth[p] *= 100 / sum
			for _, e := range phase.Composition {
				has[e.Symbol] += truth[p] * e.MassFraction
			}
		}
		var c []plan.Element
		for symbol, w := range has {
			c = append(c, plan.Element{Symbol: symbol, WeightPercent: w, U: 0.3})
		}
		got, err := plan.Amounts(phases, c)
		require.NoError(t, err)
		for p := range truth {
			assert.InDelta(t, truth[p], got[p], 0.02, "to 0.01")
		}
	}
}

func TestAmountsThatCannotBe(t *testing.T) {
	tin := request(t, []float64{25, 25, 50}, "copper", "cu3sn-epsilon", "cu6sn5-eta").Tubes[0].Phases
	for name, c := range map[string][]plan.Element{
		"open":                 {{"Cu", 80, 0.5}, {"Sn", 20, 0.5}},
		"none":                 nil,
		"an unknown amount":    {{"Cu", math.NaN(), 1}},
		"without uncertainty":  {{"Cu", 80, 0}},
		"an element of none":   {{"Cu", 70, 0.5}, {"Zn", 30, 0.5}},
		"more than any has":    {{"Sn", 90, 0.5}},
		"less than nothing of": {{"Sn", 90, 0.5}, {"Cu", 10, 0.5}},
	} {
		phases := tin
		if name != "open" {
			phases = tin[:2]
		}
		_, err := plan.Amounts(phases, c)
		require.ErrorIs(t, err, plan.ErrRequest, name)
	}
	_, err := plan.Amounts(tin, []plan.Element{{"Cu", 80, 0.5}, {"Sn", 20, 0.5}})
	assert.ErrorContains(t, err, "open")
}
