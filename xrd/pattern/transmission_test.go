package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// TestTransmissionFindsTheZero: in transmission lines shifted alike at every angle give the zero and the cells that were put in; what
// reflection can say of the same scan, a displaced surface, puts the cells off by far more. No slit or length cuts the beam.
func TestTransmissionFindsTheZero(t *testing.T) {
	const zero = -0.08
	s, x, _ := coarse(t, 40)
	s.displacement = 0
	ins := xrd.DefaultInstrument()
	ins.Axial = 0.02
	shifted := make([]float64, len(x))
	for i, v := range x {
		shifted[i] = v - zero
	}
	set := setup(x, counted(s.expected(shifted, copper(t), ins), 5), copper(t), s.phases)
	set.Instrument.Geometry, set.Instrument.Slit, set.Specimen.Length = xrd.Transmission, xrd.Slit{Mode: xrd.SlitFixed, Value: 2}, 5
	through := run(t, set, pattern.Full)
	d, ok := through.Get(pattern.Displacement, -1)
	require.True(t, ok)
	assert.InDelta(t, zero, set.Instrument.Shift(60, d.Value), 0.004)
	off := func(f *pattern.Fit) (worst float64) {
		for p := range s.phases {
			cell, _, ok := f.Cell(p)
			require.True(t, ok)
			worst = math.Max(worst, math.Abs(cell.A/s.phases[p].Cell.A-1-s.stretch[p]))
		}
		return worst
	}
	for p := range s.scales {
		assert.InEpsilon(t, s.scales[p], through.Scales[p], 0.03)
	}
	set.Instrument.Geometry, set.Instrument.Slit = xrd.Reflection, xrd.Slit{}
	reflected := run(t, set, pattern.Full)
	t.Logf("cells off by %.5f in transmission, %.5f in reflection", off(through), off(reflected))
	assert.Less(t, off(through), 1e-4)
	assert.Greater(t, off(reflected), 2*off(through))
}
