package pattern_test

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// cubicPhase is an invented phase with every line up to 3 0 0.
func cubicPhase(t *testing.T, id string, edge float64, tube xrd.Radiation) refdata.Phase {
	t.Helper()
	cell := refdata.Cell{A: edge, B: edge, C: edge, Alpha: 90, Beta: 90, Gamma: 90}
	p := refdata.Phase{ID: id, Name: id, System: refdata.Cubic, Cell: &cell, Beam: refdata.Beam{Radiation: tube}}
	for _, h := range [][3]int{{1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {2, 0, 0}, {2, 1, 0}, {2, 1, 1}, {2, 2, 0}, {3, 0, 0}} {
		d := edge / math.Sqrt(float64(h[0]*h[0]+h[1]*h[1]+h[2]*h[2]))
		at, ok := xrd.TwoTheta(d, tube.KAlpha1)
		require.True(t, ok)
		p.Lines = append(p.Lines, refdata.Line{D: d, TwoTheta: at, Intensity: 60, Families: []refdata.Family{{H: h[0], K: h[1], L: h[2], Multiplicity: 6}}})
	}
	return p
}

// TestAnchor: a scan 0.3 mm out of focus whose second phase has a cell 0.3 % off its reference. With the cell of the first
// phase known, displacement and second cell come out within their uncertainties; the displacement alone would be pulled
// to its prior of 0.15 mm and share the shift with the cells.
func TestAnchor(t *testing.T) {
	tube, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	const displacement, stretch = 0.3, 0.003
	first, second := cubicPhase(t, "standard", 4.1, tube), cubicPhase(t, "alloy", 3.6, tube)
	s := pattern.Setup{Gain: 1, Radiation: tube, Instrument: xrd.DefaultInstrument(), Phases: []refdata.Phase{first, second}}
	for at := 18.0; at < 80; at += 0.02 {
		s.TwoTheta = append(s.TwoTheta, at)
	}
	n := len(s.TwoTheta)
	s.Intensity, s.Sigma = make([]float64, n), make([]float64, n)
	for i := range n {
		s.Sigma[i] = 1 // what a setup must have before anything can be drawn
	}
	one, two := pattern.Calculate(s, first, 400, displacement, 0), pattern.Calculate(s, second, 400, displacement, stretch)
	source := rand.NewPCG(3, 4)
	for i := range n {
		s.Intensity[i] = distuv.Poisson{Lambda: 50 + one[i] + two[i], Src: source}.Rand()
		s.Sigma[i] = math.Sqrt(50 + one[i] + two[i])
	}
	cellU := map[bool]float64{}
	for _, anchored := range []bool{true, false} {
		set := s
		set.Start.Displacement = 0.25 // as a search finds them
		set.Start.Values = map[pattern.Key]float64{{Kind: pattern.CellA, ID: "alloy"}: 0.0025, {Kind: pattern.CellA, ID: "standard"}: 0.0005}
		if anchored {
			set.Anchor = "standard"
		}
		f, err := pattern.Run(context.Background(), set, pattern.Full)
		require.NoError(t, err)
		d, _ := f.Get(pattern.Displacement, -1)
		a, ok := f.Get(pattern.CellA, 0)
		require.True(t, ok)
		b, _ := f.Get(pattern.CellA, 1)
		t.Logf("anchored %v: displacement %.4f ± %.4f mm, cells %+.6f ± %.6f, %+.6f ± %.6f", anchored, d.Value, d.U, a.Value, a.U, b.Value, b.U)
		cellU[anchored] = b.U
		if !anchored {
			assert.True(t, a.Free)
			continue
		}
		assert.False(t, a.Free)
		assert.Zero(t, a.Value)
		assert.InDelta(t, displacement, d.Value, 4*d.U)
		assert.InDelta(t, stretch, b.Value, 4*b.U)
		assert.Less(t, b.U, 5e-5)
	}
	assert.Less(t, cellU[true], 0.7*cellU[false], "a known cell tells more")
}
