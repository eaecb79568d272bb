package analysis_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// TestBroadLinesBesideBackground: lines of a few nanometres that are drawn in towards the instrument's width lose their feet, and the
// interval of such a phase is as long as that may make it; lines that are narrow, or many counts, leave nothing of it.
func TestBroadLinesBesideBackground(t *testing.T) {
	width := func(p result.Phase) float64 {
		for _, b := range p.Budget {
			if b.Source == "broad lines beside the background" {
				return b.UWeightPercent
			}
		}
		return 0
	}
	of := func(size, percent, rate float64) result.Phase {
		small := simulate.Component{WeightPercent: percent, SizeNM: size}
		small.Phase.ID = "corundum"
		rest := simulate.Component{WeightPercent: 100 - percent}
		rest.Phase.ID = "fluorite"
		k := kind{made: []simulate.Component{small, rest}, named: []string{"corundum", "fluorite"}, rate: rate}
		return phase(t, run(t, k.job(t)), "corundum")
	}
	for _, percent := range []float64{10, 15, 30} {
		p := of(5, percent, 4000)
		assert.Greater(t, width(p), 0.3, "%g wt%%", percent)
		assert.LessOrEqual(t, *p.WeightPercentLo, percent)
		assert.GreaterOrEqual(t, *p.WeightPercentHi, percent)
		assert.Less(t, width(of(5, percent, 1e6)), width(p)/3, "counts outweigh what is expected")
	}
	assert.Zero(t, width(of(0, 15, 4000)))
}

// TestNameInDoubtLeavesAmountsInDoubt: of copper, a short scan shows one line, which cubic boron nitride explains as well: whichever is
// named, the intervals hold the truth of copper.
func TestNameInDoubtLeavesAmountsInDoubt(t *testing.T) {
	copper, cuprite := simulate.Component{WeightPercent: 60}, simulate.Component{WeightPercent: 40}
	copper.Phase.ID, cuprite.Phase.ID = "copper", "cuprite"
	k := kind{lo: 20, hi: 45, made: []simulate.Component{copper, cuprite}}
	doc := run(t, k.job(t))
	p := phase(t, doc, "cuprite")
	assert.LessOrEqual(t, *p.WeightPercentLo, 40.0)
	assert.GreaterOrEqual(t, *p.WeightPercentHi, 40.0)
	assert.NotEqual(t, result.Established, doc.Phases[0].Evidence)
}
