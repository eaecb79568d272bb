package screen

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
)

// perfect returns the observations of lines of given relative intensity that are all there with a scale.
func perfect(scale, u float64, intensities ...float64) []observed {
	var out []observed
	for _, i := range intensities {
		out = append(out, observed{i, scale * i, u})
	}
	return out
}

func TestWeigh(t *testing.T) {
	for _, c := range []struct {
		name        string
		lines       []observed
		scale, gain float64
		delta       float64
	}{
		{"no lines", nil, 0, 0, 0},
		{"all there: the gain is Σ(I/u)²", perfect(10, 0.5, 1, 0.5, 0.25), 10, 400 + 100 + 25, 1e-9},
		{"nothing there", perfect(0, 0.5, 1, 0.5, 0.25), 0, 0, 0},
		{"less than nothing earns nothing", perfect(-3, 0.5, 1, 0.5), 0, 0, 0},
	} {
		got := weigh(c.lines)
		assert.InDelta(t, c.scale, got.Scale, c.delta, c.name)
		assert.InDelta(t, c.gain, got.Gain, c.delta, c.name)
	}
}

// Intensity beyond the expected belongs to another phase and neither raises the scale nor the gain by much.
func TestWeighLeavesStrangers(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.8, 0.6, 0.4)
	alone := weigh(lines)
	lines[3].area = 500 // a strong line of another phase on top
	both := weigh(lines)
	assert.Less(t, both.Scale, alone.Scale/(1-lineTolerance))
	assert.Less(t, both.Gain, 2.2*alone.Gain)
}

// A phase whose strongest lines are absent gains nothing, however well others are met by chance.
func TestWeighVetoesAbsentLines(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.9, 0.3, 0.2)
	full := weigh(lines).Gain
	lines[0].area, lines[1].area = 0, 0
	assert.Less(t, weigh(lines).Gain, 0.02*full)
}

// Texture may take one line away or double one.
func TestWeighForgivesTexture(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.9, 0.8, 0.7, 0.6, 0.5)
	full := weigh(lines).Gain
	lines[0].area = 0
	assert.Greater(t, weigh(lines).Gain, full/3)
	lines[0].area = 20
	assert.InDelta(t, full, weigh(lines).Gain, 0.3*full)
}

// TestWeighOfNoise: without any intensity the gain stays below what a single Gaussian deviate would give.
func TestWeighOfNoise(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	above := 0
	const n = 20000
	for range n {
		lines := perfect(0, 1, 1, 0.7, 0.5, 0.3, 0.3, 0.2, 0.1, 0.1)
		for k := range lines {
			lines[k].area = rnd.NormFloat64()
		}
		if weigh(lines).Gain > 9 {
			above++
		}
	}
	assert.Less(t, float64(above)/n, 0.0027, "3 σ, two-sided: tables of the normal distribution")
}

// planted returns a view with the lines of corundum at a displacement and stretch.
func planted(t testing.TB, displacement, stretch float64) (simulated, *View) {
	t.Helper()
	sim := simulate(t, specimen{parts: []part{{"corundum", 60, stretch}}, radiation: "Cu", lo: 20, hi: 110, displacement: displacement, seed: 3})
	return sim, New(starter(), sim.scan, sim.ins).View(sim.residual())
}

func TestTryFindsThePlanted(t *testing.T) {
	for _, c := range []struct{ displacement, stretch float64 }{{0, 0}, {0.3, 0}, {-0.45, 0.002}, {0.1, -0.005}} {
		sim, v := planted(t, c.displacement, c.stretch)
		got := v.Try(phaseOf(t, "corundum", sim.beam))
		assert.Greater(t, got.Gain, 1000.0)
		assert.InDelta(t, 60, got.Scale, 9, "scale at %+v", c)
		assert.Greater(t, got.Found, 0.85)
		// Displacement and cell are nearly the same over this range; what both do to a line in the middle must agree.
		at, _ := xrd.TwoTheta(1.601, sim.scan.Radiation.KAlpha1)
		place := func(d, e float64) float64 {
			return xrd.DisplacementShift(at, d, 200) - 2*xrd.Degrees(math.Tan(xrd.Radians(at/2)))*e
		}
		assert.InDelta(t, place(c.displacement, c.stretch), place(got.Displacement, got.Stretch), 0.05)
	}
}

func TestTryAnAbsentPhase(t *testing.T) {
	sim, v := planted(t, 0.1, 0)
	there := v.Try(phaseOf(t, "corundum", sim.beam)).Gain
	for _, id := range []string{"ybco-123", "barite", "zincite", "sylvite", "zirconia-monoclinic"} {
		assert.Less(t, v.Try(phaseOf(t, id, sim.beam)).Gain, 0.02*there, id)
	}
	assert.Zero(t, bestTrial(nil, nil, NarrowReach, 0, 1).Gain)
	assert.Zero(t, bestTrial(v.tables, nil, NarrowReach, 0, 0.003).Gain, "a phase without lines in range")
}

// Phases of the rock-salt type have the same lines where their cells agree, others have not.
func TestSameLines(t *testing.T) {
	sim := simulate(t, bushing)
	s := New(nil, sim.scan, sim.ins)
	silicon, copper := phaseOf(t, "silicon", sim.beam), phaseOf(t, "copper", sim.beam)
	near := silicon
	near.Lines = slices.Clone(silicon.Lines)
	for i := range near.Lines {
		near.Lines[i].D *= 1.004
	}
	assert.True(t, s.SameLines(silicon, silicon, 0.005))
	assert.True(t, s.SameLines(silicon, near, 0.005))
	assert.False(t, s.SameLines(silicon, near, 0.001))
	assert.False(t, s.SameLines(silicon, copper, 0.005))
	// 3 1 0 of titanium (β), warm in its reference and of light atoms, has less than half of what niobium's has, and 2 1 1 two thirds.
	assert.True(t, s.SameLines(phaseOf(t, "niobium", sim.beam), phaseOf(t, "titanium-beta", sim.beam), 0.005))
	other := silicon
	other.Lines = slices.Clone(silicon.Lines)
	other.Lines[1].Intensity /= 2.5
	assert.False(t, s.SameLines(silicon, other, 0.005), "so near the strongest line nothing fades so much")
	assert.False(t, s.SameLines(silicon, refdata.Phase{}, 0.005), "a phase without lines is like none")
}

// Wrong cells of the phase that is there meet its lines only where they come back to its own.
func TestCountDecoys(t *testing.T) {
	_, v := planted(t, 0, 0)
	own := v.TryStrong(entryOf(t, "corundum").Strong, false).Gain
	never := func(int64, int64) bool { return false }
	narrow, wide := v.CountDecoys([]float32{1.05, 0.95}, 1, 0.5*own, none, never)
	assert.Zero(t, narrow)
	assert.Zero(t, wide)
	narrow, wide = v.CountDecoys([]float32{1.001}, 1, 0.5*own, none, never)
	assert.NotZero(t, narrow+wide, "a cell that is as good as its own")
	narrow, wide = v.CountDecoys([]float32{1.001}, 1, 0.5*own, func(int) bool { return true }, never)
	assert.Zero(t, narrow+wide, "what is skipped")
	narrow, wide = v.CountDecoys([]float32{1.001}, 1, 0.5*own, none, func(int64, int64) bool { return true })
	assert.Zero(t, narrow+wide, "nothing more is wanted")
}

func entryOf(t *testing.T, id string) refdata.Entry {
	t.Helper()
	i, ok := library.Starter().Find(id)
	require.True(t, ok)
	return library.Starter().Entry(i)
}

func TestSticksJoinWhatAScanCannotSeparate(t *testing.T) {
	r := newGrid([]float64{10, 60, 110}, 1.5405929, xrd.DefaultInstrument())
	line := func(d, i float64) refdata.Line { return refdata.Line{D: d, Intensity: i} }
	got := r.sticks([]refdata.Line{line(2.96, 100), line(2.9605, 60), line(2.9595, 40), line(2, 50), line(1.98, 10), line(0.3, 80)}, 10)
	require.Len(t, got, 3, "three at 2.96 Å are one, 0.3 Å is out of reach")
	assert.InDelta(t, 2, got[0].intensity, 1e-9)
	assert.Equal(t, r.bin(2.96), got[0].bin)
	assert.Len(t, r.sticks([]refdata.Line{line(3, 1), line(2, 2), line(1.5, 3)}, 2), 2)
}

func TestSupported(t *testing.T) {
	// By hand: scales (area + 2u)/(0.7 I) are 12/0.7, 12/0.7 and 2/0.7 with weights 1, 1 and 0.5: a fifth of the
	// intensity falls short, less than a quarter.
	lines := []observed{{1, 10, 1}, {1, 10, 1}, {0.5, -1, 0.5}}
	assert.InDelta(t, 12/0.7, supported(lines), 1e-9)
	lines[2].intensity = 0.9 // now 0.9/2.9 fall short
	assert.InDelta(t, 1/(0.7*0.9), supported(lines), 1e-9)
}
