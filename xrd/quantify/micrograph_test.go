package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// seventyThirty is an answer of 70 ± 4 and 30 ± 4 vol%.
func seventyThirty(t *testing.T) (quantify.Input, quantify.Answer) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	phases[0].Density, phases[1].Density = 4, 8
	in := quantify.Input{Fit: exact(t, phases, []float64{70 * 4, 30 * 8}, []float64{1, 1}), Roles: make([]quantify.Role, 2)}
	a := quantify.Run(in)
	require.InDelta(t, 70, a.Fractions[0].Volume.Percent, 1e-9)
	a.VolumeCovariance = [][]float64{{16, -16}, {-16, 16}}
	return in, a
}

// The weighted mean of 70 ± 4 and 64 ± 3 is (70/16 + 64/9)/(1/16 + 1/9) = 66.16 ± 2.4, z = 6/5 = 1.2; 66.16 vol% of
// density 4 beside 33.84 vol% of density 8 are 264.64/(264.64 + 270.72) = 49.43 wt%.
func TestAreasAreJoined(t *testing.T) {
	in, a := seventyThirty(t)
	m, ok := quantify.Compare(in, a, []quantify.Area{{Phase: 0, Percent: 64, U: 3}})
	require.True(t, ok)
	assert.InDelta(t, 1.2, m.Z[0], 1e-9)
	assert.True(t, math.IsNaN(m.Z[1]))
	assert.InDelta(t, 1.44, m.ChiSquare, 1e-9)
	assert.Equal(t, 1, m.Freedom)
	assert.InDelta(t, 0.2301, m.P, 1e-4, "of a Gaussian beyond 1.2 on both sides (tables)")
	assert.True(t, m.Agree())
	assert.InDelta(t, 66.16, m.Volume[0].Percent, 1e-9)
	assert.InDelta(t, 33.84, m.Volume[1].Percent, 1e-9)
	assert.InDelta(t, 2*1.96*2.4, m.Volume[0].Hi-m.Volume[0].Lo, 0.1)
	assert.InDelta(t, 49.43, m.Weight[0].Percent, 0.01)
	assert.InDelta(t, 100, m.Weight[0].Percent+m.Weight[1].Percent, 1e-9)
	// dw/dv at v: 100·32/(4v + 8(1 − v))² · … by a difference
	at := func(v float64) float64 { return 100 * 4 * v / (4*v + 8*(1-v)) }
	slope := (at(0.6626) - at(0.6606)) / 0.2
	assert.InDelta(t, 2*1.96*2.4*slope, m.Weight[0].Hi-m.Weight[0].Lo, 0.1)
}

// Areas of all phases leave pores out: 58 and 22 of 80 % are 72.5 and 27.5.
func TestAreasOfAllAreOfTheSolid(t *testing.T) {
	in, a := seventyThirty(t)
	m, ok := quantify.Compare(in, a, []quantify.Area{{0, 58, 2}, {1, 22, 2}})
	require.True(t, ok)
	assert.InDelta(t, -2.5/math.Hypot(4, 2.5), m.Z[0], 1e-9)
	assert.InDelta(t, 2.5/math.Hypot(4, 2.5), m.Z[1], 1e-9)
}

// Two that exclude each other are not joined.
func TestAreasThatDisagree(t *testing.T) {
	in, a := seventyThirty(t)
	m, ok := quantify.Compare(in, a, []quantify.Area{{0, 50, 3}})
	require.True(t, ok)
	assert.InDelta(t, 4, m.Z[0], 1e-9)
	assert.False(t, m.Agree())
	assert.True(t, math.IsNaN(m.Volume[0].Percent))
	_, ok = quantify.Compare(in, a, nil)
	assert.False(t, ok)
	_, ok = quantify.Compare(in, a, []quantify.Area{{0, 50, 0}})
	assert.False(t, ok, "without an uncertainty")
	a.Fractions[1].Volume.Percent = math.NaN()
	_, ok = quantify.Compare(in, a, []quantify.Area{{0, 50, 3}})
	assert.False(t, ok, "without volumes")
}
