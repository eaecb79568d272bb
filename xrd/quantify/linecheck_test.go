package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd/quantify"
)

// areas are fitted peaks exactly at the lines of a fit, each with a factor on its area.
func areas(in quantify.Input, factor func(p, k int) float64) []peaks.Peak {
	var out []peaks.Peak
	for p := range in.Roles {
		for k, l := range in.Fit.Lines(p) {
			if a := l.Expected * factor(p, k); a > 0 {
				out = append(out, peaks.Peak{TwoTheta: l.TwoTheta, FWHM: l.FWHM, Area: a, AreaU: 0.01 * a, Kind: peaks.KAlpha, Of: -1})
			}
		}
	}
	return out
}

// TestCheckLines by hand: two phases of S = 300 and 100 at RIR 1 are 75 and 25 wt%. Peaks that agree give the same. Peaks of
// the second phase that are 1.05 times too strong, save the strongest, of four lines of 1 % (and 3 % that is allowed to any
// line): ln S is too large by 3/4·ln 1.05 = 0.0366, so that the phase has 25 e^0.0366 = 25.93 of 100.93, 25.69 wt%; the
// strongest line alone says 25.
func TestCheckLines(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	in := quantify.Input{Fit: exact(t, phases, []float64{300, 100}, []float64{3, 1}), Roles: make([]quantify.Role, 2)}
	a := quantify.Run(in)
	w := a.Fractions[1].Weight.Percent
	require.InDelta(t, 25, w, 0.1)
	same := quantify.CheckLines(in, a, areas(in, func(int, int) float64 { return 1 }))
	require.Len(t, same, 2)
	assert.Equal(t, 4, same[1].Lines)
	assert.InDelta(t, w, same[1].Multi.Percent, 1e-9)
	assert.InDelta(t, w, same[1].Single.Percent, 1e-9)
	assert.InDelta(t, 0, same[1].Sigmas, 1e-9)

	// The lines of a fit ascend in angle: d falls with the number, and the strongest of invented phases comes first.
	off := quantify.CheckLines(in, a, areas(in, func(p, k int) float64 { return 1 + 0.05*float64(p)*math.Min(1, float64(k)) }))
	grown := w / (100 - w) * math.Exp(0.75*math.Log(1.05))
	assert.InDelta(t, 100*grown/(1+grown), off[1].Multi.Percent, 1e-6)
	assert.InDelta(t, w, off[1].Single.Percent, 1e-9)
	// u of each ln S is √(0.01² + 0.03²)/√4 = 0.0158: 18.75 wt%·√2·0.0158 = 0.419; the whole pattern adds √2 %·18.75 = 0.265.
	assert.InDelta(t, (off[1].Multi.Percent-w)/math.Hypot(0.419, 0.265), off[1].Sigmas, 0.03)

	// One line that is five times too strong moves a plain mean by ln 5/4 = 0.40; a robust one by less than half of that, and
	// the interval grows to hold the truth.
	bad := quantify.CheckLines(in, a, areas(in, func(p, k int) float64 { return 1 + 4*float64(p)*math.Max(0, 1-math.Abs(float64(k)-2)) }))
	assert.Less(t, math.Log(bad[1].Multi.Percent/(100-bad[1].Multi.Percent)*(100-w)/w), 0.2)
	assert.Less(t, bad[1].Multi.Lo, w)

	// Without peaks of the second phase its amount is that of the whole pattern, which leaves nothing to compare.
	part := quantify.CheckLines(in, a, areas(in, func(p, _ int) float64 { return float64(1 - p) }))
	assert.Equal(t, 0, part[1].Lines)
	assert.True(t, math.IsNaN(part[1].Single.Percent))
	assert.InDelta(t, w, part[1].Multi.Percent, 1e-9)

	assert.Nil(t, quantify.CheckLines(in, a, nil), "no peak")
	assert.Nil(t, quantify.CheckLines(in, quantify.Answer{Withheld: []int{0}}, nil))
	images := areas(in, func(int, int) float64 { return 1 })
	for i := range images {
		images[i].Kind = peaks.KBeta
	}
	assert.Nil(t, quantify.CheckLines(in, a, images), "images of other wavelengths are no lines")
}

// TestCheckLinesOverlap: a peak that two phases share tells neither amount.
func TestCheckLinesOverlap(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	phases[1].Lines[0].D = phases[0].Lines[0].D
	in := quantify.Input{Fit: exact(t, phases, []float64{300, 100}, []float64{3, 1}), Roles: make([]quantify.Role, 2)}
	got := quantify.CheckLines(in, quantify.Run(in), areas(in, func(int, int) float64 { return 1 }))
	require.Len(t, got, 2)
	assert.Equal(t, 3, got[0].Lines)
	assert.Equal(t, 3, got[1].Lines)
}

// TestCheckLinesBeneath: what a weak line of another phase adds to a peak is taken off: 12 of 312 here.
func TestCheckLinesBeneath(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	phases[1].Lines = append([]refdata.Line{{D: phases[0].Lines[0].D, Intensity: 12}}, phases[1].Lines...)
	in := quantify.Input{Fit: exact(t, phases, []float64{300, 100}, []float64{3, 1}), Roles: make([]quantify.Role, 2)}
	found := areas(in, func(p, k int) float64 {
		switch {
		case p == 0 && k == 0:
			return 312. / 300
		case p == 1 && k == 0:
			return 0 // part of the other's peak
		}
		return 1
	})
	a := quantify.Run(in)
	got := quantify.CheckLines(in, a, found)
	require.Len(t, got, 2)
	assert.InDelta(t, a.Fractions[0].Weight.Percent, got[0].Single.Percent, 0.05)
}

// TestCheckLinesCrowded: a peak beside which another of more than a tenth of its area lies, nearer than their mean width, tells no amount.
func TestCheckLinesCrowded(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 1)}
	in := quantify.Input{Fit: exact(t, phases, []float64{300, 100}, []float64{3, 1}), Roles: make([]quantify.Role, 2)}
	a := quantify.Run(in)
	for _, c := range []struct {
		off, share float64 // in widths, of the area
		lines      int
	}{{0.9, 0.2, 3}, {0.9, 0.05, 4}, {1.2, 0.2, 4}} {
		found := areas(in, func(int, int) float64 { return 1 })
		q := found[1]
		q.TwoTheta, q.Area, q.Kind = q.TwoTheta+c.off*q.FWHM, c.share*q.Area, peaks.KBeta
		got := quantify.CheckLines(in, a, append(found, q))
		assert.Equal(t, c.lines, got[0].Lines, "%+v", c)
	}
}
