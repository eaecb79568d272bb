package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// TestBlank: a scan of the mount, here with a broad halo, is found as often as it is in the scan, with its own noise.
func TestBlank(t *testing.T) {
	r := copper(t)
	s := truth{phases: starters(t, r, "copper"), scales: []float64{200}, stretch: []float64{0}, background: 20}
	x := angles(20, 90, 0.05)
	expected := s.expected(x, r, xrd.DefaultInstrument())
	blank := make([]float64, len(x))
	for i, v := range x {
		blank[i] = 10 + 300*math.Exp(-(v-26)*(v-26)/8)
		expected[i] += 0.6 * (blank[i] - 10)
	}
	set := setup(x, counted(expected, 1), r, s.phases)
	set.Blank = counted(blank, 2)
	set.BlankVar = set.Blank
	f := run(t, set, pattern.Full)
	// The noise of the blank dilutes its scale by noise over signal, below 5 % at these counts.
	assert.InDelta(t, 0.6, f.BlankScale, 0.03)
	assert.InDelta(t, 200, f.Scales[0], 4*math.Sqrt(f.ScaleCov[0][0])*f.Agreement.BerarLelann)
	assert.InDelta(t, 1, f.Agreement.ReducedChiSquare, 4*math.Sqrt(2/float64(len(x))))
	peak := int((26.0 - 20) / 0.05)
	assert.InDelta(t, f.Fitted[peak]+0.35*set.Blank[peak], f.Noise[peak], 0.1*f.Noise[peak], "variance of the scan plus 0.6² of the blank's")
}

// TestOtherWavelengths: Kβ of 3 % and W Lα of 1 %, drawn as further scans of the same planes with the Lorentz-polarisation
// ratio of their angle, are found.
func TestOtherWavelengths(t *testing.T) {
	r := copper(t)
	phases := starters(t, r, "copper", "silicon")
	s := truth{phases: phases, scales: []float64{30000, 30000}, stretch: []float64{0, 0}, background: 30}
	x := angles(20, 100, 0.04)
	ins := xrd.DefaultInstrument()
	expected := s.expected(x, r, ins)
	for _, p := range phases {
		for _, l := range p.Lines {
			main, _ := xrd.TwoTheta(l.D, r.KAlpha1)
			for wl, share := range map[float64]float64{r.KBeta: 0.03, xrd.WLAlpha: 0.01} {
				at, _ := xrd.TwoTheta(l.D, wl)
				fwhm, eta := xrd.ThompsonCoxHastings(ins.GaussianFWHM(at), ins.LorentzianFWHM(at))
				area := 30000 * l.Intensity / 100 * share * xrd.LorentzPolarization(at, 1) / xrd.LorentzPolarization(main, 1)
				for i, v := range x {
					expected[i] += area * xrd.PseudoVoigt(v-at, fwhm, eta)
				}
			}
		}
	}
	f := run(t, setup(x, counted(expected, 3), r, phases), pattern.Full)
	for kind, want := range map[pattern.Kind]float64{pattern.KBetaShare: 0.03, pattern.WLAlpha: 0.01} {
		got, ok := f.Get(kind, -1)
		require.True(t, ok)
		assert.InDelta(t, want, got.Value, 4*got.U, kind)
		assert.Less(t, got.U, 0.0005, kind)
	}
}

// TestRestart: a fit started from the values of a fit is at its end.
func TestRestart(t *testing.T) {
	s, x, expected := coarse(t, 40)
	set := setup(x, counted(expected, 7), copper(t), s.phases)
	f := run(t, set, pattern.Full)
	set.Start = pattern.Start{Values: f.Values(), Knots: f.Knots, Kappa: f.Kappa}
	g := run(t, set, pattern.Full)
	assert.Less(t, g.Iterations, f.Iterations)
	for p := range s.phases {
		assert.InDelta(t, f.Scales[p], g.Scales[p], 0.02*math.Sqrt(f.ScaleCov[p][p]))
		assert.InDelta(t, math.Pow(1+s.stretch[p], 3), g.VolumeRatio(p), 2e-4)
	}
	assert.Equal(t, f.Knots, g.Knots)
	// The widths as an instrument: the truth at three angles to 3 %, size and strain of the phases set apart.
	got, want := g.Instrument(), xrd.DefaultInstrument()
	for _, angle := range []float64{30, 60, 90} {
		size, _ := g.Get(pattern.Size, 0)
		strain, _ := g.Get(pattern.Strain, 0)
		sin, cos := math.Sincos(xrd.Radians(angle) / 2)
		a, _ := xrd.ThompsonCoxHastings(want.GaussianFWHM(angle), want.LorentzianFWHM(angle))
		b, _ := xrd.ThompsonCoxHastings(got.GaussianFWHM(angle), got.LorentzianFWHM(angle)+size.Value/cos+strain.Value*sin/cos)
		assert.InEpsilon(t, a, b, 0.03, "%g°", angle)
	}
}

// TestBackgroundIsChosen: the criterion takes few intervals for a flat background and more for one with two humps.
func TestBackgroundIsChosen(t *testing.T) {
	r := copper(t)
	x := angles(20, 100, 0.05)
	flat, humps := make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		flat[i] = 100
		humps[i] = 100 + 200*math.Exp(-(v-30)*(v-30)/50) + 150*math.Exp(-(v-55)*(v-55)/80)
	}
	a := run(t, setup(x, counted(flat, 1), r, nil), pattern.Full)
	b := run(t, setup(x, counted(humps, 1), r, nil), pattern.Full)
	assert.Equal(t, pattern.KnotChoices(80)[0], a.Knots)
	assert.Greater(t, b.Knots, a.Knots)
	for i := range x {
		require.InDelta(t, humps[i], b.Background[i], 15)
	}
}

// TestUncertaintiesOfTiedCells: edges and angles that symmetry ties share their uncertainty; fixed ones have none.
func TestUncertaintiesOfTiedCells(t *testing.T) {
	r := copper(t)
	x := angles(20, 100, 0.04)
	fit := func(id string) (cell, u refdata.Cell) {
		s := truth{phases: starters(t, r, id), scales: []float64{300}, stretch: []float64{0.001}, background: 20}
		f := run(t, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 2), r, s.phases), pattern.Full)
		cell, u, ok := f.Cell(0)
		require.True(t, ok)
		assert.InDelta(t, s.phases[0].Cell.A*1.001, cell.A, 4*u.A)
		return cell, u
	}
	cell, u := fit("copper")
	assert.True(t, cell.A == cell.B && cell.B == cell.C && u.A == u.B && u.B == u.C && u.A > 0 && u.Alpha == 0, "%v ± %v", cell, u)
	cell, u = fit("zincite")
	assert.True(t, cell.A == cell.B && u.A == u.B && u.C > 0 && u.C != u.A && u.Gamma == 0 && cell.Gamma == 120, "%v ± %v", cell, u)
	cell, u = fit("gypsum")
	assert.True(t, u.A > 0 && u.B > 0 && u.C > 0 && u.Beta > 0 && u.Alpha == 0 && u.Gamma == 0, "%v ± %v", cell, u)
}
