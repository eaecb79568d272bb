package pattern_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/xrdtest"
)

// invented makes a phase of a crystal system with lines at low-index planes of its cell and random intensities.
func invented(id string, sys refdata.CrystalSystem, cell refdata.Cell, rnd *rand.Rand) refdata.Phase {
	p := refdata.Phase{ID: id, System: sys, Cell: &cell, MeanB: 0.5}
	g := cell.Reciprocal()
	for _, h := range [][3]int{{0, 0, 1}, {1, 0, 0}, {1, 1, 0}, {1, 0, -1}, {1, 1, 1}, {2, -1, 1}, {0, 2, 1}, {1, 2, 3}} {
		p.Lines = append(p.Lines, refdata.Line{D: g.D(h[0], h[1], h[2]), Intensity: 20 + 80*rnd.Float64(),
			Families: []refdata.Family{{H: h[0], K: h[1], L: h[2], Multiplicity: 2, F2: 1}, {H: h[1], K: -h[2], L: h[0], Multiplicity: 4, F2: 0.3}}})
	}
	return p
}

// everySystem holds one phase of each crystal system and setting, and a list without cell.
func everySystem(rnd *rand.Rand) []refdata.Phase {
	list := refdata.Phase{ID: "list", Lines: []refdata.Line{{D: 3.1, Intensity: 100}, {D: 1.9, Intensity: 60}, {D: 1.5, Intensity: 35}}}
	return []refdata.Phase{list,
		invented("cubic", refdata.Cubic, refdata.Cell{A: 4.1, B: 4.1, C: 4.1, Alpha: 90, Beta: 90, Gamma: 90}, rnd),
		invented("tetragonal", refdata.Tetragonal, refdata.Cell{A: 3.8, B: 3.8, C: 5.1, Alpha: 90, Beta: 90, Gamma: 90}, rnd),
		invented("hexagonal", refdata.Hexagonal, refdata.Cell{A: 3.2, B: 3.2, C: 5.2, Alpha: 90, Beta: 90, Gamma: 120}, rnd),
		invented("rhombohedral", refdata.Rhombohedral, refdata.Cell{A: 4.9, B: 4.9, C: 4.9, Alpha: 62, Beta: 62, Gamma: 62}, rnd),
		invented("orthorhombic", refdata.Orthorhombic, refdata.Cell{A: 4.2, B: 3.7, C: 5.3, Alpha: 90, Beta: 90, Gamma: 90}, rnd),
		invented("unique a", refdata.Monoclinic, refdata.Cell{A: 4.2, B: 3.7, C: 5.3, Alpha: 97, Beta: 90, Gamma: 90}, rnd),
		invented("unique b", refdata.Monoclinic, refdata.Cell{A: 4.2, B: 3.7, C: 5.3, Alpha: 90, Beta: 97, Gamma: 90}, rnd),
		invented("unique c", refdata.Monoclinic, refdata.Cell{A: 4.2, B: 3.7, C: 5.3, Alpha: 90, Beta: 90, Gamma: 97}, rnd),
		invented("triclinic", refdata.Triclinic, refdata.Cell{A: 4.2, B: 3.7, C: 5.3, Alpha: 94, Beta: 97, Gamma: 102}, rnd)}
}

// inside returns a random value in the middle half of a parameter's bounds, or within two standard uncertainties of its
// prior where that is narrower.
func inside(p pattern.Parameter, rnd *rand.Rand) float64 {
	u := rnd.Float64()
	v := p.Lower + (p.Upper-p.Lower)*(0.25+u/2)
	if s := p.Prior.Sigma; s > 0 && s < p.Upper-p.Lower {
		v = p.Prior.Mean + (4*u-2)*s
	}
	return min(p.Upper, max(p.Lower, v)) + 1e-5
}

// TestDerivatives compares the derivatives to every kind of parameter with differences of the columns, at random points.
func TestDerivatives(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	x := angles(10, 100, 0.1)
	one := make([]float64, len(x))
	for i := range one {
		one[i] = 1
	}
	for i, phase := range everySystem(rnd) {
		t.Run(phase.ID, func(t *testing.T) {
			s := setup(x, one, copper(t), []refdata.Phase{phase, everySystem(rnd)[(i+1)%10]})
			s.Poles = [][][3]int{{{0, 0, 1}, {1, 1, 0}}, {{1, 0, 0}}}
			m, err := pattern.NewModel(s)
			require.NoError(t, err)
			pattern.Release(m, func(pattern.Parameter) bool { return true })
			_, linear, nonlinear := m.Size()
			require.Equal(t, len(m.Parameters()), nonlinear, "every parameter is free")
			for range 4 {
				var theta []float64
				for _, p := range m.Parameters() {
					theta = append(theta, inside(p, rnd))
				}
				c := make([]float64, linear)
				for j := range c {
					c[j] = rnd.Float64() * 100
				}
				err := xrdtest.CheckDerivatives(m, theta, c)
				var ids []string
				for _, p := range s.Phases {
					ids = append(ids, p.ID)
				}
				require.NoError(t, err, names(m, ids))
			}
		})
	}
}

func names(m *pattern.Model, ids []string) string {
	var out string
	for i, p := range m.Parameters() {
		out += fmt.Sprintf("%d %s\n", i, p.Name(ids))
	}
	return out
}

// TestSpacingSlopes compares ∂(1/d²) with differences over the strained cell, for every system.
func TestSpacingSlopes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for _, phase := range everySystem(rnd)[1:] {
		kinds := pattern.CellKinds(phase)
		at := make([]pattern.Parameter, len(kinds))
		for i, k := range kinds {
			at[i] = pattern.Parameter{Kind: k}
		}
		got := make([]float64, len(kinds))
		for _, hkl := range [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 2, 3}, {-2, 1, 1}} {
			pattern.SpacingSlopes(*phase.Cell, phase.Cell.Reciprocal(), phase.System, hkl, kinds, got)
			q := func(i int, h float64) float64 {
				ps := append([]pattern.Parameter{}, at...)
				ps[i].Value = h
				return pattern.Strained(*phase.Cell, phase.System, ps).Reciprocal().Norm2(hkl[0], hkl[1], hkl[2])
			}
			const h = 1e-4
			for i, k := range kinds {
				want := (8*(q(i, h)-q(i, -h)) - (q(i, 2*h) - q(i, -2*h))) / (12 * h)
				require.InDelta(t, want, got[i], 1e-9*math.Max(1, math.Abs(want)), "%s %s of %v", phase.ID, k, hkl)
			}
		}
	}
}

// TestColumnsAgainstPlainSum compares the columns with a sum over lines, wavelengths and points that uses only the
// formulas of package xrd. The model draws lines out to where they fall below 2e-4 of the strongest line's height.
func TestColumnsAgainstPlainSum(t *testing.T) {
	r := copper(t)
	ins := xrd.DefaultInstrument()
	ins.Axial = 0.01
	s := truth{phases: starters(t, r, "corundum", "zincite"), scales: []float64{0, 0}, stretch: []float64{0.002, -0.001}, displacement: 0.1}
	x := angles(20, 120, 0.05)
	set := setup(x, make([]float64, len(x)), r, s.phases)
	for i := range set.Sigma {
		set.Sigma[i] = 1
	}
	set.Instrument = ins
	m, err := pattern.NewModel(set)
	require.NoError(t, err)
	pattern.Set(m, pattern.Displacement, -1, s.displacement)
	for p := range s.phases {
		for _, k := range []pattern.Kind{pattern.CellA, pattern.CellC} {
			pattern.Set(m, k, p, s.stretch[p])
		}
	}
	_, linear, _ := m.Size()
	phi := make([][]float64, linear)
	for j := range phi {
		phi[j] = make([]float64, len(x))
	}
	m.Columns(nil, phi)
	for p := range s.phases {
		s.scales = make([]float64, len(s.phases))
		s.scales[p] = 1
		want := s.expected(x, r, ins)
		var top, worst float64
		for i := range x {
			top = math.Max(top, want[i])
			worst = math.Max(worst, math.Abs(want[i]-phi[p][i]))
		}
		require.Greater(t, top, 1.0)
		require.Less(t, worst, 1e-3*top, "phase %d", p)
	}
}
