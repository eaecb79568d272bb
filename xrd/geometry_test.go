package xrd_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

func TestParseGeometry(t *testing.T) {
	for s, want := range map[string]xrd.Geometry{"reflection": xrd.Reflection, " Transmission ": xrd.Transmission} {
		g, err := xrd.ParseGeometry(s)
		require.NoError(t, err)
		assert.Equal(t, want, g)
		again, err := xrd.ParseGeometry(g.String())
		require.NoError(t, err)
		assert.Equal(t, g, again)
	}
	_, err := xrd.ParseGeometry("grazing")
	assert.ErrorIs(t, err, xrd.ErrUnknownGeometry)
}

// TestTransmissionKnowsNoSurface: the shift is one of zero, and no slit cuts the beam. In a flat specimen of the best thickness volume
// and absorption, integrated here, cancel to 1 % up to 60° and to 7 % up to 90°.
func TestTransmissionKnowsNoSurface(t *testing.T) {
	ins := xrd.Instrument{Radius: 200, Slit: xrd.Slit{Mode: xrd.SlitFixed, Value: 1}}
	through := ins
	through.Geometry = xrd.Transmission
	for _, at := range []float64{5, 40, 120} {
		assert.Equal(t, xrd.DisplacementShift(at, 0.1, 200), ins.Shift(at, 0.1))
		assert.Equal(t, xrd.FootprintFactor(at, ins.Slit, 200, 10), ins.IntensityFactor(at, 10))
		assert.InDelta(t, -2*0.1/200*180/math.Pi, through.Shift(at, 0.1), 1e-12)
		assert.Equal(t, 1.0, through.IntensityFactor(at, 10))
	}
	// A layer at depth z of a plate of μt = 1: in and out the beam goes t/cos θ through it in all, whatever z.
	intensity := func(twoTheta float64) (sum float64) {
		c := math.Cos(twoTheta * math.Pi / 360)
		const layers = 1000
		for k := range layers {
			z := (float64(k) + 0.5) / layers
			sum += math.Exp(-z/c) * math.Exp(-(1-z)/c) / c / layers
		}
		return sum
	}
	assert.InEpsilon(t, intensity(0), intensity(60), 0.012)
	assert.InEpsilon(t, intensity(0), intensity(90), 0.07)
}
