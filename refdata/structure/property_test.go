package structure_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// randomRecord puts one to three atoms at general positions of a random setting, in a random cell of its symmetry.
func randomRecord(t testing.TB, rng *rand.Rand) refdata.Record {
	rows := settingRows(t)
	row := rows[rng.IntN(len(rows))]
	ops, err := structure.HallOperators(row[3])
	require.NoError(t, err)
	edge := func() float64 { return 3.5 + 3*rng.Float64() }
	angle := func() float64 { return 75 + 30*rng.Float64() }
	r := refdata.Record{ID: row[3], SpaceGroup: "Hall: " + row[3]}
	r.Cell = structure.Averaged(refdata.Cell{A: edge(), B: edge(), C: edge(), Alpha: angle(), Beta: angle(), Gamma: angle()}, ops)
	for i := range 1 + rng.IntN(3) {
		e, _ := element.ByZ(3 + rng.IntN(80))
		r.Atoms = append(r.Atoms, refdata.Atom{Label: fmt.Sprint(i), Element: e.Symbol, X: rng.Float64(), Y: rng.Float64(), Z: rng.Float64(), Occupancy: 0.3 + 0.7*rng.Float64(), B: rng.Float64()})
	}
	return r
}

// general reports whether no atom came, by chance, so near a special position or another atom that it was merged.
func general(s *structure.Structure, r refdata.Record) bool {
	for _, site := range s.Sites {
		if site.Multiplicity != len(s.Operators()) {
			return false
		}
	}
	return len(s.Sites) == len(r.Atoms)
}

// expanded lists all atoms of the cell.
func expanded(t testing.TB, r refdata.Record) (atoms []refdata.Atom) {
	ops, err := structure.HallOperators(r.SpaceGroup[len("Hall: "):])
	require.NoError(t, err)
	for _, a := range r.Atoms {
		for _, op := range ops {
			b := a
			x := op.Apply([3]float64{a.X, a.Y, a.Z})
			b.X, b.Y, b.Z = x[0], x[1], x[2]
			atoms = append(atoms, b)
		}
	}
	return atoms
}

// direct is |F|² of one reflection as a plain sum over all atoms.
func direct(atoms []refdata.Atom, h, k, l int, s2, wavelength float64) float64 {
	var f complex128
	for _, a := range atoms {
		e, _ := element.Lookup(a.Element)
		fp, fpp, _ := element.Dispersion(e.Z, wavelength)
		phase := 2 * math.Pi * (float64(h)*a.X + float64(k)*a.Y + float64(l)*a.Z)
		f += complex(a.Occupancy*math.Exp(-a.B*s2), 0) * complex(e.F0(s2)+fp, fpp) * cmplx.Exp(complex(0, phase))
	}
	return real(f)*real(f) + imag(f)*imag(f)
}

// Every line of a random structure is the plain sum over all atoms and all reflections of its spacing: symmetry, multiplicities, extinctions and
// Friedel mates are nothing but a quick way to it.
func TestRandomStructuresAgainstPlainSums(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 1415))
	b := beam(t, "Cu")
	b.MaxTwoTheta = 75
	lambda := b.Radiation.KAlpha1
	checked := 0
	for range 60 {
		r := randomRecord(t, rng)
		s, err := structure.FromRecord(r)
		require.NoError(t, err, r.ID)
		if !general(s, r) {
			continue
		}
		checked++
		p, err := s.Phase(b)
		require.NoError(t, err, r.ID)
		totals := plainSums(t, r, lambda, b.MaxTwoTheta)
		scale := 0.0
		for _, l := range p.Lines {
			got, want := l.Intensity, totals.near(l.TwoTheta)
			if scale == 0 {
				scale = want / got
			}
			require.InDelta(t, want/scale, got, 1e-6*got+1e-9, "%s: line at %g", r.ID, l.TwoTheta)
		}
		var all, kept float64
		for _, v := range totals {
			all += v.intensity / scale
		}
		for _, l := range p.Lines {
			kept += l.Intensity
		}
		require.InDelta(t, all, kept, 0.01*float64(len(totals))+1e-6*all, "%s: a line is missing", r.ID)
	}
	require.Greater(t, checked, 30)
}

type plainLine struct{ twoTheta, intensity float64 }

type plainLines []plainLine

// near sums what lies within the coincidence of an angle.
func (p plainLines) near(twoTheta float64) (sum float64) {
	for _, v := range p {
		if math.Abs(v.twoTheta-twoTheta) < 1e-3 {
			sum += v.intensity
		}
	}
	return sum
}

func plainSums(t testing.TB, r refdata.Record, lambda, maxTwoTheta float64) (list plainLines) {
	atoms := expanded(t, r)
	m := r.Cell.Reciprocal()
	n := [3]int{}
	for i, edge := range []float64{r.Cell.A, r.Cell.B, r.Cell.C} {
		n[i] = int(edge * 2 * math.Sin(xrd.Radians(maxTwoTheta/2)) / lambda)
	}
	for h := -n[0]; h <= n[0]; h++ {
		for k := -n[1]; k <= n[1]; k++ {
			for l := -n[2]; l <= n[2]; l++ {
				q2 := m.Norm2(float64(h), float64(k), float64(l))
				twoTheta, ok := xrd.TwoTheta(1/math.Sqrt(q2), lambda)
				if q2 == 0 || !ok || twoTheta > maxTwoTheta {
					continue
				}
				list = append(list, plainLine{twoTheta, direct(atoms, h, k, l, q2/4, lambda) * xrd.LorentzPolarization(twoTheta, 1)})
			}
		}
	}
	return list
}

// A structure and all its atoms in P 1 have the same lines, density and RIR.
func TestExpansionChangesNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 26))
	for range 40 {
		r := randomRecord(t, rng)
		s, err := structure.FromRecord(r)
		require.NoError(t, err, r.ID)
		if !general(s, r) || len(s.Operators()) > 48 {
			continue
		}
		flat := r
		flat.SpaceGroup, flat.Atoms = "P 1", expanded(t, r)
		one, err := structure.FromRecord(flat)
		require.NoError(t, err, r.ID)
		assertSamePhase(t, phase(t, s, "Co"), phase(t, one, "Co"), r.ID)
	}
}

func assertSamePhase(t *testing.T, want, got refdata.Phase, name string) {
	t.Helper()
	require.InEpsilon(t, want.Density, got.Density, 1e-9, name)
	require.InEpsilon(t, want.RIR.Value, got.RIR.Value, 1e-7, name)
	require.Len(t, got.Lines, len(want.Lines), name)
	for i, l := range got.Lines {
		require.InDelta(t, want.Lines[i].TwoTheta, l.TwoTheta, 1e-6, name)
		require.InDelta(t, want.Lines[i].Intensity, l.Intensity, 1e-5, name)
	}
}

// |F|² is the same for all equivalents of a reflection, wherever the origin is.
func TestStructureFactorInvariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 35))
	lambda := beam(t, "Fe").Radiation.KAlpha1
	for range 60 {
		r := randomRecord(t, rng)
		s, err := structure.FromRecord(r)
		require.NoError(t, err)
		h, k, l := rng.IntN(9)-4, rng.IntN(9)-4, 1+rng.IntN(4)
		want := structure.F2(s, h, k, l, lambda)
		for _, op := range s.Operators() {
			a := h*op.R[0] + k*op.R[3] + l*op.R[6]
			b := h*op.R[1] + k*op.R[4] + l*op.R[7]
			c := h*op.R[2] + k*op.R[5] + l*op.R[8]
			require.InDelta(t, want, structure.F2(s, a, b, c, lambda), 1e-7*(want+1), r.ID)
			require.InDelta(t, want, structure.F2(s, -a, -b, -c, lambda), 1e-7*(want+1), r.ID)
		}
		if !general(s, r) || len(s.Operators()) > 24 {
			continue
		}
		moved := r
		moved.SpaceGroup, moved.Atoms = "P 1", expanded(t, r)
		shift := [3]float64{rng.Float64(), rng.Float64(), rng.Float64()}
		for i := range moved.Atoms {
			moved.Atoms[i].X += shift[0]
			moved.Atoms[i].Y += shift[1]
			moved.Atoms[i].Z += shift[2]
		}
		one, err := structure.FromRecord(moved)
		require.NoError(t, err)
		require.InDelta(t, want, structure.F2(one, h, k, l, lambda), 1e-7*(want+1), r.ID)
	}
}

// The Laue group of a phase takes every reflection of a family to the same spacing, and makes up its multiplicity.
func TestRotationsMakeFamilies(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 97))
	for range 40 {
		r := randomRecord(t, rng)
		s, err := structure.FromRecord(r)
		require.NoError(t, err)
		p := phase(t, s, "Cr")
		m := p.Cell.Reciprocal()
		for _, l := range p.Lines {
			for _, f := range l.Families {
				orbit := map[[3]int]bool{}
				for _, rot := range p.Rotations {
					v := [3]int{f.H*rot[0] + f.K*rot[3] + f.L*rot[6], f.H*rot[1] + f.K*rot[4] + f.L*rot[7], f.H*rot[2] + f.K*rot[5] + f.L*rot[8]}
					orbit[v] = true
					require.InEpsilon(t, m.D(f.H, f.K, f.L), m.D(v[0], v[1], v[2]), 1e-9, r.ID)
				}
				require.Len(t, orbit, f.Multiplicity, r.ID)
			}
		}
	}
}

// The system of each setting is the one of its number in International Tables, on the axes of the setting.
func TestSystems(t *testing.T) {
	for _, row := range settingRows(t) {
		ops, err := structure.HallOperators(row[3])
		require.NoError(t, err)
		cell := structure.Averaged(refdata.Cell{A: 5, B: 6, C: 7, Alpha: 85, Beta: 95, Gamma: 105}, ops)
		s, err := structure.FromRecord(refdata.Record{SpaceGroup: "Hall: " + row[3], Cell: cell, Atoms: []refdata.Atom{{Element: "Cu", X: 0.11, Y: 0.23, Z: 0.37, Occupancy: 1}}})
		require.NoError(t, err, row)
		assert.Equal(t, systemOf(row), s.System(), row)
	}
}

func systemOf(row []string) refdata.CrystalSystem {
	var n int
	_, _ = fmt.Sscan(row[0], &n)
	switch {
	case n >= 195:
		return refdata.Cubic
	case row[2] == "R":
		return refdata.Rhombohedral
	case n >= 143:
		return refdata.Hexagonal
	case n >= 75:
		return refdata.Tetragonal
	case n >= 16:
		return refdata.Orthorhombic
	case n >= 3:
		return refdata.Monoclinic
	}
	return refdata.Triclinic
}
