package analysis

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd/diagnose"
	"phasetally/xrd/pattern"
)

// TestSlitHolds: where lines speak clearly any better fit will do; where they are bent by a bad fit the pattern must.
func TestSlitHolds(t *testing.T) {
	fit := func(residual float64) *pattern.Fit {
		f := &pattern.Fit{Fitted: make([]float64, 100), Noise: make([]float64, 100)}
		f.Setup.Intensity = make([]float64, 100)
		for i := range f.Noise {
			f.Noise[i], f.Setup.Intensity[i] = 1, residual
		}
		return f
	}
	clear, vague := &diagnose.Slit{Gain: slitGain + 1}, &diagnose.Slit{Gain: slitTry + 1}
	assert.True(t, slitHolds(clear, fit(1.01), fit(1)))
	assert.False(t, slitHolds(clear, fit(1), fit(1.01)))
	assert.False(t, slitHolds(vague, fit(1.1), fit(1)), "χ² falls by 21")
	assert.True(t, slitHolds(vague, fit(1.2), fit(1)), "by 44")
	assert.False(t, slitHolds(vague, fit(2.2), fit(2)), "by 84, 21 times what is left for each point")
}
