package pattern_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/simulate"
)

// texturedCalcite draws a scan of calcite and corundum, calcite with a texture, and fits it without.
func texturedCalcite(t *testing.T, pole [3]int, r, time float64, seed uint64) *pattern.Fit {
	t.Helper()
	beam := copper(t)
	phases := starters(t, beam, "calcite", "corundum")
	job := simulate.Job{Radiation: beam, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 90, Step: 0.02, Time: time, Rate: 4000, Background: 20,
		Components: []simulate.Component{{Phase: phases[0], WeightPercent: 60, Pole: pole, March: r}, {Phase: phases[1], WeightPercent: 40}}}
	made, err := simulate.Run(job)
	require.NoError(t, err)
	s := setup(made.TwoTheta, simulate.Count(made.Expected, seed), beam, phases)
	f, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	return f
}

// axisFound returns the axis of the first phase of a fit, 0 0 0 for none.
func axisFound(f *pattern.Fit) (axis [3]int) {
	if f.Setup.Poles != nil && len(f.Setup.Poles[0]) > 0 {
		return f.Setup.Poles[0][0]
	}
	return axis
}

// TestAxisIsStable: where counts are few, axes that put like factors on the lines are told apart by noise: whatever the noise, the same one
// is taken. Where counts are many the axis that was drawn is found though another is denser.
func TestAxisIsStable(t *testing.T) {
	found := map[[3]int]int{}
	for seed := range uint64(8) {
		g, err := pattern.ReleaseTexture(t.Context(), texturedCalcite(t, [3]int{1, 1, 0}, 0.8, 0.1, seed+1))
		require.NoError(t, err)
		found[axisFound(g)]++
	}
	t.Logf("few counts: %v", found)
	delete(found, [3]int{})
	assert.Len(t, found, 1)
	g, err := pattern.ReleaseTexture(t.Context(), texturedCalcite(t, [3]int{1, 1, 0}, 0.7, 5, 1))
	require.NoError(t, err)
	assert.Equal(t, [3]int{1, 1, 0}, axisFound(g))
}

// TestAxisDecided: an axis that is decided leaves no choice.
func TestAxisDecided(t *testing.T) {
	f := texturedCalcite(t, [3]int{1, 0, 4}, 0.7, 2, 3)
	f.Setup.Axes = map[string][3]int{"calcite": {1, 1, 0}}
	g, err := pattern.ReleaseTexture(t.Context(), f)
	require.NoError(t, err)
	assert.Equal(t, [3]int{1, 1, 0}, axisFound(g))
	f.Setup.Axes["calcite"] = [3]int{}
	_, err = pattern.Run(t.Context(), f.Setup, pattern.Full)
	assert.ErrorIs(t, err, pattern.ErrSetup)
}

// TestJointAxis: scans of one material that disagree when each is asked alone are described about one axis, the one that the scan of many
// counts shows, in whatever order they come.
func TestJointAxis(t *testing.T) {
	faint := texturedCalcite(t, [3]int{1, 1, 0}, 0.85, 0.02, 1)
	clear := texturedCalcite(t, [3]int{1, 1, 0}, 0.7, 5, 2)
	calcite := clear.Setup.Phases[0]
	axes := [][3]int{{1, 0, 4}, {1, 1, 0}, {0, 0, 1}}
	for _, fits := range [][]*pattern.Fit{{faint, clear}, {clear, faint}} {
		axis, ok, err := pattern.JointAxis(t.Context(), fits, calcite, axes)
		require.NoError(t, err)
		require.True(t, ok)
		assert.Equal(t, [3]int{1, 1, 0}, axis)
	}
	axis, ok, err := pattern.JointAxis(t.Context(), []*pattern.Fit{faint}, calcite, axes)
	require.NoError(t, err)
	require.True(t, ok)
	assert.Equal(t, [3]int{0, 0, 1}, axis, "the denser planes, where nothing is sure")
	_, ok, err = pattern.JointAxis(t.Context(), []*pattern.Fit{clear}, refdata.Phase{ID: "absent"}, axes)
	require.NoError(t, err)
	assert.False(t, ok)
}
