package diagnose_test

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/result"
)

const cuKa1 = 1.5405929 // Å; NIST SRD 128

// peaksOf are peaks of equal area at spacings, all shifted.
func peaksOf(shift float64, spacings ...float64) (list []peaks.Peak) {
	for _, d := range spacings {
		if at, ok := xrd.TwoTheta(d, cuKa1); ok {
			list = append(list, peaks.Peak{TwoTheta: at + shift, D: d, Area: 100, Kind: peaks.KAlpha})
		}
	}
	return list
}

// The orders of 15.35 Å, half the c axis of Bi-2212, are found with any of them missing and with angles that are shifted; other peaks
// beside them do no harm while they have little of the area. The lines of a cube are no orders, and four peaks are too few.
func TestOneSpacing(t *testing.T) {
	var film, cubic []float64
	for _, n := range []float64{2, 3, 4, 5, 6, 8, 10, 11} {
		film = append(film, 15.35/n)
	}
	for _, s := range []float64{3, 4, 8, 11, 12, 16, 19, 20, 24} { // h² + k² + l² of a face-centred cube
		cubic = append(cubic, 4.05/math.Sqrt(s))
	}
	for _, shift := range []float64{0, 0.12, -0.12} {
		d, orders, ok := diagnose.OneSpacing(peaksOf(shift, film...), cuKa1)
		require.True(t, ok, shift)
		assert.InDelta(t, 15.35, d, 0.02)
		assert.Equal(t, []int{2, 3, 4, 5, 6, 8, 10, 11}, orders)
	}
	_, _, ok := diagnose.OneSpacing(peaksOf(0, cubic...), cuKa1)
	assert.False(t, ok, "a cube")
	_, _, ok = diagnose.OneSpacing(peaksOf(0, film[:4]...), cuKa1)
	assert.False(t, ok, "four peaks")
	with := append(peaksOf(0, film...), peaksOf(0, 2.31, 1.93)...)
	_, orders, ok := diagnose.OneSpacing(with, cuKa1)
	assert.True(t, ok, "a substrate beside it")
	assert.Len(t, orders, 8)
	with[8].Area = 1e4
	_, _, ok = diagnose.OneSpacing(with, cuKa1)
	assert.False(t, ok, "nearly all is something else")
}

// One weak peak beside four orders of 6.36 Å does not make them orders of 31.8 Å, though it lies at the fourth of that; beside five, they
// are told without it, and orders that several peaks ask for are kept.
func TestOneSpacingByOnePeak(t *testing.T) {
	var film []float64
	for n := range 5 {
		film = append(film, 6.36/float64(n+1))
	}
	with := func(n int, more ...float64) []peaks.Peak {
		list := append(peaksOf(0, film[:n]...), peaksOf(0, more...)...)
		for i := n; i < len(list); i++ {
			list[i].Area = 2
		}
		slices.SortFunc(list, func(a, b peaks.Peak) int { return cmp.Compare(a.TwoTheta, b.TwoTheta) })
		return list
	}
	_, orders, ok := diagnose.OneSpacing(with(4, 5*6.36/4), cuKa1)
	assert.False(t, ok, orders)
	d, orders, ok := diagnose.OneSpacing(with(5, 5*6.36/4), cuKa1)
	assert.True(t, ok)
	assert.InDelta(t, 6.36, d, 0.01)
	assert.Equal(t, []int{1, 2, 3, 4, 5}, orders)
	d, _, ok = diagnose.OneSpacing(peaksOf(0, 2*6.36, film[0], 2*6.36/3, film[1], 2*6.36/5, film[2], film[3], film[4]), cuKa1)
	assert.True(t, ok)
	assert.InDelta(t, 2*6.36, d, 0.02)
}

// Peaks at random places are no orders of one spacing, however many spacings are tried: a few of them always lie near orders of a large one.
func TestOneSpacingByChance(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 3000 {
		var list []peaks.Peak
		for range 6 {
			at := 10 + 80*rng.Float64()
			d, ok := xrd.DSpacing(at, cuKa1)
			require.True(t, ok)
			list = append(list, peaks.Peak{TwoTheta: at, D: d, Area: 100, Kind: peaks.KAlpha})
		}
		slices.SortFunc(list, func(a, b peaks.Peak) int { return cmp.Compare(a.TwoTheta, b.TwoTheta) })
		_, orders, ok := diagnose.OneSpacing(list, cuKa1)
		assert.False(t, ok, orders)
	}
}

// No powder of the starter collection shows orders of one spacing, with all its lines down to a hundredth of the strongest; the planes
// (0 0 l) of Bi-2212 have that of a film of it, and those of silver do not.
func TestPowdersHaveManySpacings(t *testing.T) {
	c := library.Starter()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for i := range c.Len() {
		p, err := c.Phase(i, refdata.Beam{Radiation: cu, MaxTwoTheta: 90})
		require.NoError(t, err)
		var list []peaks.Peak
		for _, l := range p.Lines {
			if l.Intensity > 1 && l.TwoTheta > 10 {
				list = append(list, peaks.Peak{TwoTheta: l.TwoTheta, D: l.D, Area: l.Intensity, Kind: peaks.KAlpha})
			}
		}
		d, orders, ok := diagnose.OneSpacing(list, cuKa1)
		assert.False(t, ok, "%s: %v of %.2f Å", p.ID, orders, d)
		pole, layered := diagnose.LayersOf(p, 15.35)
		switch p.ID {
		case "bi-2212":
			assert.True(t, layered)
			assert.Equal(t, [3]int{0, 0, 1}, pole)
		case "copper", "silver": // d of (2 2 0) of copper is a twelfth of it
			assert.False(t, layered)
		}
	}
}

// The caution says which phases have the spacing, and that this establishes none; without the spacing there is none.
func TestOneSpacingIsTold(t *testing.T) {
	var check diagnose.Check
	for _, c := range diagnose.Checks {
		if len(c.Codes) == 1 && c.Codes[0] == "one-spacing" {
			check = c
		}
	}
	require.NotNil(t, check.Of)
	e := diagnose.Evidence{Document: result.Document{Explanation: &result.Explanation{Verdict: result.None}}}
	assert.Empty(t, check.Of(e))
	e.Document.Explanation.OneSpacing = &result.OneSpacing{Spacing: 15.35, Peaks: 13, Of: 14, Candidates: []result.Layers{{ID: "bi-2212", Name: "Bi-2212", Pole: [3]int{0, 0, 1}}}}
	got := check.Of(e)
	require.Len(t, got, 1)
	assert.Contains(t, got[0].Text, "13 of 14 peaks are orders of one spacing, 15.35 Å")
	assert.Contains(t, got[0].Text, "Bi-2212 (planes 0 0 1) would have this spacing; that alone does not establish a name")
}
