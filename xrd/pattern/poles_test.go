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

// TestPoleChoices: faces and cleavages that minerals are known by (handbooks of mineralogy, from memory), each up to symmetry.
func TestPoleChoices(t *testing.T) {
	for _, c := range []struct {
		id   string
		face [3]int
		why  string
	}{
		{"calcite", [3]int{1, 0, 4}, "the cleavage rhombohedron"},
		{"dolomite", [3]int{1, 0, 4}, "the same"},
		{"corundum", [3]int{0, 1, 2}, "the rhombohedron"},
		{"hematite", [3]int{0, 1, 2}, "the same"},
		{"quartz", [3]int{0, 1, 1}, "of two rhombohedra of one spacing that which reflects more"},
		{"rutile", [3]int{1, 1, 0}, "prism and cleavage"},
		{"gypsum", [3]int{0, 1, 0}, "the cleavage"},
		{"brucite", [3]int{0, 0, 1}, "the cleavage"},
		{"copper", [3]int{1, 1, 1}, "the octahedron"},
	} {
		p := starter(t, c.id, copper(t))
		got := pattern.PoleChoices(p)
		assert.True(t, among(p, got, c.face), "%s %v, %s: %v", c.id, c.face, c.why, got)
		for i, pole := range got {
			assert.False(t, among(p, got[:i], pole), "%s: %v twice in %v", c.id, pole, got)
		}
		assert.LessOrEqual(t, len(got), 8, c.id)
	}
	assert.Len(t, pattern.PoleChoices(starter(t, "copper", copper(t))), 3, "a cubic crystal has its usual ones")
	assert.Len(t, pattern.PoleChoices(refdata.Phase{Lines: []refdata.Line{{D: 2}}}), 3, "nor has a list without cell more")
}

// among reports whether symmetry takes a pole to one of others.
func among(p refdata.Phase, others [][3]int, pole [3]int) bool {
	for _, r := range pattern.LaueGroup(p) {
		h := [3]int{pole[0]*r[0] + pole[1]*r[3] + pole[2]*r[6], pole[0]*r[1] + pole[1]*r[4] + pole[2]*r[7], pole[0]*r[2] + pole[1]*r[5] + pole[2]*r[8]}
		for _, q := range others {
			if h == q || h == [3]int{-q[0], -q[1], -q[2]} {
				return true
			}
		}
	}
	return false
}

// TestCleavageIsFound: calcite whose cleavage rhombohedra lie flat, beside corundum, is found so, and its scale is right.
func TestCleavageIsFound(t *testing.T) {
	r := copper(t)
	phases := starters(t, r, "calcite", "corundum")
	job := simulate.Job{Radiation: r, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 90, Step: 0.02, Time: 2, Rate: 4000, Background: 20,
		Components: []simulate.Component{{Phase: phases[0], WeightPercent: 60, Pole: [3]int{1, 0, 4}, March: 0.7}, {Phase: phases[1], WeightPercent: 40}}}
	made, err := simulate.Run(job)
	require.NoError(t, err)
	s := setup(made.TwoTheta, simulate.Count(made.Expected, 3), r, phases)
	f, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	g, err := pattern.ReleaseTexture(t.Context(), f)
	require.NoError(t, err)
	require.NotNil(t, g.Setup.Poles)
	require.Len(t, g.Setup.Poles[0], 1)
	assert.True(t, among(phases[0], [][3]int{{1, 0, 4}}, g.Setup.Poles[0][0]), "%v", g.Setup.Poles[0])
	assert.Empty(t, g.Setup.Poles[1])
	found, _ := g.Get(pattern.TextureLogR, 0)
	assert.InDelta(t, math.Log(0.7), found.Value, 0.03)
	assert.InDelta(t, 1, g.Scales[0]/g.Scales[1]/(made.Scales[0]/made.Scales[1]), 0.02)
}
