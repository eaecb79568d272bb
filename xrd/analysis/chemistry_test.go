package analysis_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/analysis"
)

func TestCheckChemistry(t *testing.T) {
	list := func(pairs ...any) (out []analysis.ElementAmount) {
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, analysis.ElementAmount{Symbol: pairs[i].(string), WeightPercent: pairs[i+1].(float64)})
		}
		return out
	}
	for _, good := range [][]analysis.ElementAmount{nil, list("Fe", 0.8), list("Cu", 80.0, "Sn", 20.5), list("Cu", 90.0), list("C", 0.4, "S", 0.3)} {
		assert.NoError(t, analysis.CheckChemistry(good), good)
	}
	for _, bad := range [][]analysis.ElementAmount{list("Cu", 0.8, "Sn", 0.2), list("Cu", 80.0, "Sn", 40.0), list("Cu", 80.0, "cu", 3.0), list("Cu", math.NaN())} {
		assert.ErrorIs(t, analysis.CheckChemistry(bad), analysis.ErrChemistry, bad)
	}
}
