package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/simulate"
)

// warmCalcite draws a scan of calcite, whose displacement parameter is larger by extra Å² than the structure has it, and corundum, and
// returns the setup of a fit.
func warmCalcite(t *testing.T, extra, time float64, seed uint64) pattern.Setup {
	t.Helper()
	beam := copper(t)
	phases := starters(t, beam, "calcite", "corundum")
	job := simulate.Job{Radiation: beam, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: time, Rate: 4000, Background: 20}
	for k, p := range changed(phases, extra, 0) {
		job.Components = append(job.Components, simulate.Component{Phase: p, WeightPercent: []float64{60, 40}[k]})
	}
	made, err := simulate.Run(job)
	require.NoError(t, err)
	return setup(made.TwoTheta, simulate.Count(made.Expected, seed), beam, phases)
}

// TestJointDeltaB: scans too short to tell a displacement parameter alone, each drawn towards 0, tell it together; what was expected beforehand
// counts once. One that is decided is not fitted, and stays.
func TestJointDeltaB(t *testing.T) {
	const extra = 0.25
	var fits []*pattern.Fit
	var alone, sum, information, expected float64
	for seed := range uint64(6) {
		f, err := pattern.Run(t.Context(), warmCalcite(t, extra, 0.02, seed), pattern.Full)
		require.NoError(t, err)
		q, ok := f.Get(pattern.Thermal, 0)
		require.True(t, ok && q.Free)
		alone += q.Value / 6
		fits = append(fits, f)
		expected = 1 / (q.Prior.Sigma * q.Prior.Sigma)
		sum += q.Value / (q.U * q.U)
		information += 1/(q.U*q.U) - expected
	}
	b, ok := pattern.JointDeltaB(fits, fits[0].Setup.Phases[0])
	require.True(t, ok)
	assert.InDelta(t, sum/(information+expected), b, 1e-12, "the formula of the doc")
	assert.Less(t, math.Abs(b-extra), math.Abs(alone-extra), "nearer than the mean of what each says, %.3f", alone)
	assert.InDelta(t, extra, b, 3/math.Sqrt(information+expected))
	one, ok := pattern.JointDeltaB(fits[:1], fits[0].Setup.Phases[0])
	require.True(t, ok)
	q, _ := fits[0].Get(pattern.Thermal, 0)
	assert.InDelta(t, q.Value, one, 1e-12, "a scan alone says what it says")
	_, ok = pattern.JointDeltaB(fits, refdata.Phase{ID: "absent"})
	assert.False(t, ok)

	s := warmCalcite(t, extra, 0.02, 1)
	s.DeltaB = map[string]float64{"calcite": b, "absent": 7}
	f, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	q, _ = f.Get(pattern.Thermal, 0)
	assert.False(t, q.Free)
	assert.InDelta(t, b, q.Value, 1e-12)
	q, _ = f.Get(pattern.Thermal, 1)
	assert.True(t, q.Free, "that of the other phase is fitted")
	_, ok = pattern.JointDeltaB([]*pattern.Fit{f}, f.Setup.Phases[0])
	assert.False(t, ok, "one that was decided says nothing")
	s.Start = f.Restart(pattern.FullFit)
	s.Start.Values[pattern.Key{Kind: pattern.Thermal, ID: "calcite"}] = 0.5
	f, err = pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	q, _ = f.Get(pattern.Thermal, 0)
	assert.InDelta(t, b, q.Value, 1e-12, "whatever the start says")
	s.DeltaB["calcite"] = 1e9
	f, err = pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	q, _ = f.Get(pattern.Thermal, 0)
	assert.InDelta(t, q.Upper, q.Value, 1e-12, "within its bounds")
	s.DeltaB["calcite"] = math.NaN()
	_, err = pattern.Run(t.Context(), s, pattern.Full)
	assert.ErrorIs(t, err, pattern.ErrSetup)
}
