package pattern_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// TestLines: the fitted area of a line is scale × intensity/100; what is observed lies around it by what counting
// allows; a line in the open belongs to its phase alone, one under another phase's does not.
func TestLines(t *testing.T) {
	s, x, expected := coarse(t, 40)
	var pulls pull
	for seed := range uint64(10) {
		f := run(t, setup(x, counted(expected, seed), copper(t), s.phases), pattern.Full)
		for p := range s.phases {
			for _, l := range f.Lines(p) {
				require.InDelta(t, f.Scales[p]*l.Line.Intensity/100, l.Expected, 0.3*l.Expected, "but for the change of B")
				if l.Covered && l.Clear > 0.9 && l.Fitted > 10*l.ObservedU {
					pulls.add((l.Observed - l.Fitted) / l.ObservedU)
				}
			}
		}
	}
	t.Logf("%.0f lines, spread of pulls %.2f", pulls.n, pulls.sd())
	// The fit takes up some of the scatter of its few strongest lines, so that the spread is below 1, not above.
	assert.InDelta(t, 0.85, pulls.sd(), 0.2)
	require.Greater(t, pulls.n, 100.0)
}

// TestOwnMisfit: κ = 0.1 at each of 2 × 0.2°/0.02° = 20 points is 0.1/√20 of the line; a line narrower than its points is one of them.
func TestOwnMisfit(t *testing.T) {
	f := &pattern.Fit{Setup: pattern.Setup{TwoTheta: []float64{20, 20.02, 20.04}}, Kappa: 0.1}
	assert.InDelta(t, 0.1/math.Sqrt(20), f.OwnMisfit(pattern.LineFit{FWHM: 0.2}), 1e-9)
	assert.InDelta(t, 0.1, f.OwnMisfit(pattern.LineFit{FWHM: 0.005}), 1e-9)
}

func TestClear(t *testing.T) {
	list := func(id string, d ...float64) refdata.Phase {
		p := refdata.Phase{ID: id}
		for _, v := range d {
			p.Lines = append(p.Lines, refdata.Line{D: v, Intensity: 100})
		}
		return p
	}
	phases := []refdata.Phase{list("a", 3.0, 2.0), list("b", 2.0001, 1.5)} // 2.0 is shared
	s := truth{phases: phases, scales: []float64{100, 100}, stretch: []float64{0, 0}, background: 20}
	x := angles(25, 70, 0.04)
	set := setup(x, counted(s.expected(x, copper(t), xrd.DefaultInstrument()), 1), copper(t), phases)
	set.Hold = []pattern.Kind{pattern.CellA, pattern.Size, pattern.Strain, pattern.Thermal}
	f := run(t, set, pattern.Full)
	lines := f.Lines(0)
	require.Len(t, lines, 2)
	slices.SortFunc(lines, func(a, b pattern.LineFit) int { return int(a.TwoTheta - b.TwoTheta) })
	assert.InDelta(t, 1, lines[0].Clear, 0.01)
	assert.InDelta(t, 0.5, lines[1].Clear, 0.05, "two lines of equal area at one place")
	assert.InDelta(t, 29.757, lines[0].TwoTheta, 0.005, "2 arcsin(1.540593/6), by hand")
}

// TestTextureIsFound: zincite with a March–Dollase pole 001 (all planes equivalent to h k l lie at cos²α = l² d²/c² from
// it) is told from a random one, and its coefficient recovered.
func TestTextureIsFound(t *testing.T) {
	r := copper(t)
	plain := starter(t, "zincite", r)
	x := angles(25, 110, 0.04)
	for _, coefficient := range []float64{0.7, 1, 1.4} {
		textured := plain
		textured.Lines = slices.Clone(plain.Lines)
		for i, l := range plain.Lines {
			c := float64(l.Families[0].L) * l.D / plain.Cell.C
			textured.Lines[i].Intensity *= pattern.MarchDollase(c*c, coefficient)
		}
		s := truth{phases: []refdata.Phase{textured}, scales: []float64{800}, stretch: []float64{0}, background: 30}
		f := run(t, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 4), r, []refdata.Phase{plain}), pattern.Full)
		g, err := pattern.ReleaseTexture(context.Background(), f)
		require.NoError(t, err)
		found, ok := g.Get(pattern.TextureLogR, 0)
		if coefficient == 1 {
			assert.False(t, ok, "no texture, no parameter")
			continue
		}
		require.True(t, ok, "r = %g", coefficient)
		assert.Equal(t, [3]int{0, 0, 1}, found.Pole)
		assert.InDelta(t, math.Log(coefficient), found.Value, 4*found.U+0.005)
		assert.Less(t, found.U, 0.02)
		assert.InDelta(t, 800, g.Scales[0], 5*math.Sqrt(g.ScaleCov[0][0])*g.Agreement.BerarLelann)
	}
}
