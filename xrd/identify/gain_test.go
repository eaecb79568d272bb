package identify

import (
	"math"
	"math/rand/v2"
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
		assert.InDelta(t, c.scale, got.scale, c.delta, c.name)
		assert.InDelta(t, c.gain, got.gain, c.delta, c.name)
	}
}

// Intensity beyond the expected belongs to another phase and neither raises the scale nor the gain by much.
func TestWeighLeavesStrangers(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.8, 0.6, 0.4)
	alone := weigh(lines)
	lines[3].area = 500 // a strong line of another phase on top
	both := weigh(lines)
	assert.Less(t, both.scale, alone.scale/(1-lineTolerance))
	assert.Less(t, both.gain, 2.2*alone.gain)
}

// A phase whose strongest lines are absent gains nothing, however well others are met by chance.
func TestWeighVetoesAbsentLines(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.9, 0.3, 0.2)
	full := weigh(lines).gain
	lines[0].area, lines[1].area = 0, 0
	assert.Less(t, weigh(lines).gain, 0.02*full)
}

// Texture may take one line away or double one.
func TestWeighForgivesTexture(t *testing.T) {
	lines := perfect(10, 0.5, 1, 0.9, 0.8, 0.7, 0.6, 0.5)
	full := weigh(lines).gain
	lines[0].area = 0
	assert.Greater(t, weigh(lines).gain, full/3)
	lines[0].area = 20
	assert.InDelta(t, full, weigh(lines).gain, 0.3*full)
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
		if weigh(lines).gain > 9 {
			above++
		}
	}
	assert.Less(t, float64(above)/n, 0.0027, "3 σ, two-sided: tables of the normal distribution")
}

// planted returns a view with the lines of copper at a displacement and stretch, and the sticks of a phase.
func planted(t testing.TB, displacement, stretch float64) (*search, *view, *library.Library) {
	t.Helper()
	lib := library.Starter()
	job := specimen{parts: []part{{"corundum", 60, stretch}}, displacement: displacement, seed: 3, hi: 110}.job(t, lib)
	s := &search{job: job, threshold: Threshold(lib.Len()), refused: map[int]bool{}, background: firstLook(job.Setup)}
	s.ruler = newRuler(job.Setup.TwoTheta, job.Setup.Radiation.KAlpha1, job.Setup.Instrument)
	for i := range lib.Len() {
		s.admit(i, job.Collection.Entry(i))
	}
	residual, variance := s.unexplained()
	return s, s.view(newMatchedFilter(job.Setup.TwoTheta, residual, variance, job.Setup.Radiation, job.Setup.Instrument)), lib
}

func phaseOf(t testing.TB, s *search, lib *library.Library, id string) refdata.Phase {
	t.Helper()
	i, ok := lib.Find(id)
	require.True(t, ok)
	p, err := lib.Phase(i, s.job.Beam)
	require.NoError(t, err)
	return p
}

func TestBestTrialFindsThePlanted(t *testing.T) {
	for _, c := range []struct{ displacement, stretch float64 }{{0, 0}, {0.3, 0}, {-0.45, 0.002}, {0.1, -0.005}} {
		s, v, lib := planted(t, c.displacement, c.stretch)
		got := s.trial(v, phaseOf(t, s, lib, "corundum"))
		assert.Greater(t, got.gain, 1000.0)
		assert.InDelta(t, 60, got.scale, 9, "scale at %+v", c)
		assert.Greater(t, got.found, 0.85)
		// Displacement and cell are nearly the same over this range; what both do to a line in the middle must agree.
		at, _ := xrd.TwoTheta(1.601, s.job.Setup.Radiation.KAlpha1)
		place := func(d, e float64) float64 {
			return xrd.DisplacementShift(at, d, 200) - 2*xrd.Degrees(math.Tan(xrd.Radians(at/2)))*e
		}
		assert.InDelta(t, place(c.displacement, c.stretch), place(got.displacement, got.stretch), 0.05)
	}
}

func TestBestTrialOfAnAbsentPhase(t *testing.T) {
	s, v, lib := planted(t, 0.1, 0)
	there := s.trial(v, phaseOf(t, s, lib, "corundum")).gain
	for _, id := range []string{"ybco-123", "barite", "zincite", "sylvite", "zirconia-monoclinic"} {
		assert.Less(t, s.trial(v, phaseOf(t, s, lib, id)).gain, 0.02*there, id)
	}
	assert.Zero(t, bestTrial(nil, nil, narrowReach, 0, 1).gain)
	assert.Zero(t, bestTrial(v.tables, nil, narrowReach, 0, 0.003).gain, "a phase without lines in range")
}

func TestSticksJoinWhatAScanCannotSeparate(t *testing.T) {
	r := newRuler([]float64{10, 60, 110}, 1.5405929, xrd.DefaultInstrument())
	line := func(d, i float64) refdata.Line { return refdata.Line{D: d, Intensity: i} }
	got := r.sticks([]refdata.Line{line(2.96, 100), line(2.9605, 60), line(2.9595, 40), line(2, 50), line(1.98, 10), line(0.3, 80)}, 10)
	require.Len(t, got, 3, "three at 2.96 Å are one, 0.3 Å is out of reach")
	assert.InDelta(t, 2, got[0].intensity, 1e-9)
	assert.Equal(t, r.mark(2.96), got[0].mark)
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
