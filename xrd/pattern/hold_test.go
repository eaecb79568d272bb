package pattern_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// TestHold: held parameters stay where they start, the others are told with their covariance in their order.
func TestHold(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	cell := refdata.Cell{A: 4, B: 4, C: 4, Alpha: 90, Beta: 90, Gamma: 90}
	p := refdata.Phase{ID: "cubic", System: refdata.Cubic, Cell: &cell, Beam: refdata.Beam{Radiation: cu}}
	for _, h := range [][3]int{{1, 0, 0}, {1, 1, 0}, {1, 1, 1}, {2, 0, 0}, {2, 1, 0}, {2, 1, 1}, {2, 2, 0}, {3, 0, 0}} {
		d := 4 / math.Sqrt(float64(h[0]*h[0]+h[1]*h[1]+h[2]*h[2]))
		at, ok := xrd.TwoTheta(d, cu.KAlpha1)
		require.True(t, ok)
		p.Lines = append(p.Lines, refdata.Line{D: d, TwoTheta: at, Intensity: 60, Families: []refdata.Family{{H: h[0], K: h[1], L: h[2], Multiplicity: 6}}})
	}
	s := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument(), Phases: []refdata.Phase{p}}
	for at := 18.0; at < 80; at += 0.02 {
		s.TwoTheta = append(s.TwoTheta, at)
	}
	s.Intensity, s.Sigma = make([]float64, len(s.TwoTheta)), make([]float64, len(s.TwoTheta))
	for i := range s.Sigma {
		s.Sigma[i] = 1
	}
	for i, v := range pattern.Calculate(s, p, 2000, 0.08, 0) {
		s.Intensity[i] = v + 50
		s.Sigma[i] = math.Sqrt(s.Intensity[i])
	}
	s.Hold = []pattern.Kind{pattern.CellA, pattern.WidthX}
	f, err := pattern.Run(context.Background(), s, pattern.Full)
	require.NoError(t, err)
	require.Greater(t, f.Scales[0], 100.0)
	k := 0
	for _, q := range f.Parameters {
		if q.Kind == pattern.CellA || q.Kind == pattern.WidthX {
			assert.False(t, q.Free, q.Kind)
			assert.Zero(t, q.U, q.Kind)
		}
		if q.Kind == pattern.CellA {
			assert.Zero(t, q.Value)
		}
		if q.Kind == pattern.Displacement {
			assert.InDelta(t, 0.08, q.Value, 1e-4, "with the cell held it is known well")
		}
		if q.Free {
			assert.InDelta(t, q.U*q.U, f.FreeCov[k][k], 1e-12, q.Kind)
			k++
		}
	}
	assert.Len(t, f.FreeCov, k)
	for i := range f.FreeCov {
		for j := range f.FreeCov {
			assert.InDelta(t, f.FreeCov[i][j], f.FreeCov[j][i], 1e-12)
		}
	}
}

// TestFaintPhaseIsHeld: a phase that is not there holds its parameters at the end, so that the fit converges and the others
// come out as without it.
func TestFaintPhaseIsHeld(t *testing.T) {
	s, x, expected := coarse(t, 40)
	y := counted(expected, 3)
	without := run(t, setup(x, y, copper(t), s.phases), pattern.Full)
	for seed, id := range []string{"quartz", "rutile", "cuprite"} {
		f := run(t, setup(x, y, copper(t), append(s.phases[:3:3], starter(t, id, copper(t)))), pattern.Full)
		require.Equal(t, leastsq.Converged, f.Status, seed)
		assert.Less(t, f.Iterations, 45, id)
		for _, q := range f.Parameters {
			if q.Phase == 3 {
				assert.False(t, q.Free, "%s of %s", q.Kind, id)
			} else if q.Phase >= 0 && q.Kind == pattern.CellA {
				assert.True(t, q.Free)
			}
		}
		for p, scale := range without.Scales {
			assert.InDelta(t, scale, f.Scales[p], math.Sqrt(without.ScaleCov[p][p]), id)
		}
	}
}

// TestDisplacementPrior: a displacement parameter is expected within what that of the structure is uncertain by; without a word of it
// within 30 %; an assumed one between 0.2 and 0.8 Å².
func TestDisplacementPrior(t *testing.T) {
	for name, c := range map[string]struct {
		phase refdata.Phase
		want  float64
	}{
		"stated":           {refdata.Phase{MeanB: 0.8, MeanBU: 0.1}, 0.1},
		"no uncertainty":   {refdata.Phase{MeanB: 0.8}, 0.24},
		"assumed":          {refdata.Phase{MeanB: 0.5, MeanBU: 0.1, AssumedB: true}, 0.25},
		"nothing is known": {refdata.Phase{}, 0.25},
	} {
		q := pattern.ThermalParameter(3, c.phase)
		assert.Equal(t, pattern.Thermal, q.Kind, name)
		assert.Equal(t, 3, q.Phase, name)
		assert.InDelta(t, c.want, q.Prior.Sigma, 1e-12, name)
		assert.Zero(t, q.Prior.Mean, name)
	}
}
