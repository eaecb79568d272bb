package analysis

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

// TestSlitStaysWhenExplainedAnew: an analysis that is begun again, without a false anchor or a twin, keeps the slit that it
// has decided for.
func TestSlitStaysWhenExplainedAnew(t *testing.T) {
	decided := &fittedSlit{automatic: true}
	r := &run{optics: decided}
	first := &identify.Outcome{Members: make([]identify.Member, 1)}
	out, err := r.identifyCorrected(t.Context(), identify.Job{}, first)
	require.NoError(t, err)
	assert.Same(t, first, out)
	assert.Same(t, decided, r.optics)
}

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
	clear, vague := &fittedSlit{gain: slitGain + 1}, &fittedSlit{gain: slitTry + 1}
	assert.True(t, clear.holds(fit(1.01), fit(1)))
	assert.False(t, clear.holds(fit(1), fit(1.01)))
	assert.False(t, vague.holds(fit(1.1), fit(1)), "χ² falls by 21")
	assert.True(t, vague.holds(fit(1.2), fit(1)), "by 44")
	assert.False(t, vague.holds(fit(2.2), fit(2)), "by 84, 21 times what is left for each point")
}
