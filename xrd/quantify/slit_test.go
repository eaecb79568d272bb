package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/quantify"
)

// TestGuessSlit: the right explanation of a trend gains most, and an ideal scan needs none.
func TestGuessSlit(t *testing.T) {
	ideal := quantify.GuessSlit(bent(t, func(int, float64) float64 { return 1 }))
	assert.Less(t, ideal.Automatic, 0.0, "an automatic slit would make it worse")
	assert.Less(t, ideal.Overspill, 10.0)

	automatic := quantify.GuessSlit(bent(t, func(_ int, sin float64) float64 { return sin }))
	assert.Greater(t, automatic.Automatic, 30.0)
	assert.Greater(t, automatic.Automatic, automatic.Overspill-9)

	limit := math.Sin(xrd.Radians(44) / 2)
	short := quantify.GuessSlit(bent(t, func(_ int, sin float64) float64 { return math.Min(1, sin/limit) }))
	assert.Greater(t, short.Overspill, 30.0)
	assert.Greater(t, short.Overspill, short.Automatic+9)
	assert.InDelta(t, 44, short.Full, 3)
	assert.InDelta(t, 44, short.Full, 3*short.FullU, "within its uncertainty")
	assert.True(t, short.FullU >= 0.5 && short.FullU < 4, "%g", short.FullU)

	rough := quantify.GuessSlit(bent(t, func(p int, sin float64) float64 { return 1 + 0.3*math.Sin(40*sin+float64(p)) }))
	assert.Less(t, math.Max(rough.Automatic, rough.Overspill), 30.0, "scatter is no trend")
}
