package diagnose

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// At 46.0° with copper, s = sin 23° / 1.5406 Å = 0.25363 Å⁻¹: B of 1 Å² sends 1 − exp(−2 s²) = 12.1 % of what a crystal scatters between its lines,
// 13.7 % of what stays in them. Below a lone line the share falls with the distance as the width of a halo says.
func TestThermalDiffuse(t *testing.T) {
	fit := &pattern.Fit{Curves: [][]float64{nil, nil}}
	fit.Setup.Radiation.KAlpha1 = 1.5406
	fit.Setup.Phases = []refdata.Phase{{}, {MeanB: 0.5}}
	for x := 10.0; x < 90; x += 0.02 {
		fit.Setup.TwoTheta = append(fit.Setup.TwoTheta, x)
		fit.Curves[0] = append(fit.Curves[0], 1000)
		fit.Curves[1] = append(fit.Curves[1], 0)
	}
	assert.InDelta(t, 137.3, thermalDiffuse(fit, 46), 0.2)
	fit.Curves[0], fit.Curves[1] = fit.Curves[1], fit.Curves[0]
	assert.InDelta(t, 66.5, thermalDiffuse(fit, 46), 0.2, "B of the phase: exp(s²) − 1")
	clear(fit.Curves[1])
	for i, x := range fit.Setup.TwoTheta {
		if math.Abs(x-40) < 0.05 {
			fit.Curves[1][i] = 1e4
		}
	}
	near := func(at float64) float64 {
		return thermalDiffuse(fit, at) / math.Expm1(math.Pow(math.Sin(at/2*math.Pi/180)/1.5406, 2))
	}
	assert.InDelta(t, 0.5, near(44)/near(40), 0.01, "half as much 4° from it")
}
