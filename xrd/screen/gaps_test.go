package screen

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

// TestNothingIsKnownOfGaps: neither the filter nor the bins of a grid answer for what was not measured.
func TestNothingIsKnownOfGaps(t *testing.T) {
	var x, residual, variance []float64
	for at := 20.0; at < 80; at += 0.02 {
		if at < 40 || at > 50 {
			x, residual, variance = append(x, at), append(residual, 0), append(variance, 50)
		}
	}
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	f := NewFilter(x, residual, variance, r, xrd.DefaultInstrument())
	for at := 25.0; at < 75; at += 0.37 {
		_, _, ok := f.At(at)
		assert.Equal(t, at < 40 || at > 50, ok, at)
	}
	inside := 0
	for _, p := range newGrid(x, r.KAlpha1, xrd.DefaultInstrument()).places(0) {
		if p >= 0 {
			assert.Less(t, x[int(p)+1]-x[int(p)], 1.0)
			inside++
		}
	}
	assert.Greater(t, inside, 1000)
}
