package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// TestVerdictsOnLines is the table of what a line says: nothing outside the scan or where nothing is known, never two things at once.
func TestVerdictsOnLines(t *testing.T) {
	line := func(observed, clear float64) pattern.LineFit {
		return pattern.LineFit{Covered: true, Clear: clear, Fitted: 100, Observed: observed, MisfitU: 10}
	}
	for _, c := range []struct {
		line                       pattern.LineFit
		own, seen, tested, missing bool
	}{
		{line(100, 1), true, true, true, false},
		{line(31, 1), true, true, true, false},
		{line(29, 1), true, false, true, false}, // neither
		{line(20, 1), true, false, true, true},
		{line(100, 0.5), false, true, true, false},
		{line(0, 0.5), false, false, true, false}, // under another phase nothing is missing
		{pattern.LineFit{Covered: true, Clear: 1, Fitted: 30, Observed: 0, MisfitU: 10}, true, false, false, false},
		{pattern.LineFit{Clear: 1, Fitted: 100, Observed: 100, MisfitU: 10}, false, false, false, false},
		{pattern.LineFit{Covered: true, Clear: 1, Fitted: 100, Observed: math.NaN(), MisfitU: math.NaN()}, true, false, false, false},
	} {
		assert.Equal(t, []bool{c.own, c.seen, c.tested, c.missing}, []bool{c.line.Own(), c.line.Seen(), c.line.Tested(), c.line.Missing()}, "%+v", c.line)
	}
	for verdict, l := range map[result.LineVerdict]pattern.LineFit{
		result.LineSeen: line(100, 1), result.LineMissing: line(20, 1), result.LineWeak: line(29, 1), result.LineOverlapped: line(100, 0.5),
		result.LineOutside: {Clear: 1, Fitted: 100, Observed: 100, MisfitU: 10, Diffuse: true},
		result.LineDiffuse: {Covered: true, Clear: 1, Fitted: 100, Observed: 100, MisfitU: 10, Diffuse: true},
	} {
		assert.Equal(t, verdict, l.Verdict())
	}
	assert.Equal(t, result.LineWeak, pattern.LineFit{Covered: true, Clear: 1, Fitted: 100, Observed: 100}.Verdict(), "without an uncertainty nothing is seen")
	rnd := rand.New(rand.NewPCG(2, 2))
	for range 2000 {
		l := pattern.LineFit{Covered: rnd.IntN(4) > 0, Clear: rnd.Float64(), Fitted: 100 * rnd.Float64(), Observed: 150*rnd.Float64() - 20, MisfitU: 30 * rnd.Float64()}
		assert.False(t, l.Seen() && l.Missing(), "%+v", l)
		assert.True(t, l.Covered || !l.Own() && !l.Seen() && !l.Tested() && !l.Missing(), "%+v", l)
	}
}

// TestLikeness: patterns that differ by a scale are alike, those without a common point are not, whatever the weights.
func TestLikeness(t *testing.T) {
	a, b, variance := []float64{1, 2, 3, 0}, []float64{2, 4, 6, 0}, []float64{1, 5, 2, 9}
	for _, v := range [][]float64{nil, variance} {
		assert.InDelta(t, 1, pattern.Likeness(a, b, v), 1e-12)
		assert.Zero(t, pattern.Likeness(a, []float64{0, 0, 0, 1}, v))
		assert.Zero(t, pattern.Likeness(a, make([]float64, 4), v))
	}
	assert.InDelta(t, math.Sqrt(0.5), pattern.Likeness([]float64{1, 1}, []float64{1, 0}, nil), 1e-12)
}

// TestRestartGoesOnFromAFit: a full fit that starts from a full fit ends where that ended, and NoiseAt is free of extra variance.
func TestRestartGoesOnFromAFit(t *testing.T) {
	s, x, expected := coarse(t, 40)
	set := setup(x, counted(expected, 1), copper(t), s.phases)
	f := run(t, set, pattern.Full)
	set.Start = f.Restart(pattern.FullFit)
	set.ExtraVariance = make([]float64, len(set.TwoTheta))
	for i := range set.ExtraVariance {
		set.ExtraVariance[i] = 1e-3
	}
	g, err := pattern.Run(t.Context(), set, pattern.Full)
	require.NoError(t, err)
	assert.Equal(t, f.Knots, g.Knots)
	for p := range f.Scales {
		assert.InEpsilon(t, f.Scales[p], g.Scales[p], 0.01)
	}
	for i := range g.Noise {
		assert.InDelta(t, g.Noise[i]-1e-3, g.NoiseAt(i), 1e-12)
		assert.Equal(t, f.Noise[i], f.NoiseAt(i))
	}
}
