package structure_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// parse reads one structure.
func parse(t testing.TB, text string) *structure.Structure {
	t.Helper()
	list, err := structure.Read(strings.NewReader(text), "dir/test.cif")
	require.NoError(t, err)
	require.Len(t, list, 1)
	return list[0]
}

func phase(t testing.TB, s *structure.Structure, anode string) refdata.Phase {
	t.Helper()
	p, err := s.Phase(beam(t, anode))
	require.NoError(t, err)
	return p
}

// file writes a CIF of a cell, a symmetry item or loop, and an atom loop.
func file(cell refdata.Cell, symmetry, atoms string) string {
	return fmt.Sprintf("data_test\n_cell_length_a %g\n_cell_length_b %g\n_cell_length_c %g\n_cell_angle_alpha %g\n_cell_angle_beta %g\n_cell_angle_gamma %g\n%s\nloop_\n%s\n",
		cell.A, cell.B, cell.C, cell.Alpha, cell.Beta, cell.Gamma, symmetry, atoms)
}

const plainAtoms = "_atom_site_label\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n_atom_site_B_iso_or_equiv\n"

func symbol(hm string) string { return "_symmetry_space_group_name_H-M '" + hm + "'" }

var (
	zincite   = refdata.Cell{A: 3.24982, B: 3.24982, C: 5.20661, Alpha: 90, Beta: 90, Gamma: 120} // SRM 674 cell (read)
	magnetite = refdata.Cell{A: 8.396, B: 8.396, C: 8.396, Alpha: 90, Beta: 90, Gamma: 90}
	copper    = refdata.Cell{A: 3.61491, B: 3.61491, C: 3.61491, Alpha: 90, Beta: 90, Gamma: 90}
)

const (
	zinciteAtoms = plainAtoms + "Zn1 0.333333 0.666667 0 0.60\nO2 0.333333 0.666667 0.382 0.62"
	zinciteRIR   = 5.458213 // oracle, Cu Kα1 (read)
	copperRIR    = 9.420382 // oracle
	magnetiteRIR = 5.183043 // oracle
)

func codes(cautions []xrd.Caution) (list []string) {
	for _, c := range cautions {
		list = append(list, c.Code)
	}
	return list
}

func line(p refdata.Phase, h, k, l int) (refdata.Line, bool) {
	for _, candidate := range p.Lines {
		for _, f := range candidate.Families {
			if f.H == h && f.K == k && f.L == l {
				return candidate, true
			}
		}
	}
	return refdata.Line{}, false
}

// Both Friedel mates count, also where the crystal has no centre.
func TestPitfallFriedelMates(t *testing.T) {
	p := phase(t, parse(t, file(zincite, symbol("P 63 m c"), zinciteAtoms)), "Cu")
	for _, c := range []struct{ h, k, l, multiplicity int }{{1, 0, 0, 6}, {0, 0, 2, 2}, {1, 0, 1, 12}, {2, 1, 1, 24}} { // 6/mmm, Int. Tables A 10 (from memory)
		got, ok := line(p, c.h, c.k, c.l)
		require.True(t, ok)
		assert.Equal(t, c.multiplicity, got.Families[0].Multiplicity)
	}
}

// Lines of equal d keep the |F|² of each family: merged naively LaB6 is 57 % off.
func TestPitfallCoincidence(t *testing.T) {
	lab6 := parse(t, file(refdata.Cell{A: 4.156826, B: 4.156826, C: 4.156826, Alpha: 90, Beta: 90, Gamma: 90}, symbol("P m -3 m"), plainAtoms+"La 0 0 0 0.3\nB 0.1993 0.5 0.5 0.3"))
	got, ok := line(phase(t, lab6, "Cu"), 3, 0, 0)
	require.True(t, ok)
	require.Len(t, got.Families, 2)
	multiplicities := []int{got.Families[0].Multiplicity, got.Families[1].Multiplicity}
	assert.ElementsMatch(t, []int{6, 24}, multiplicities, "300 and 221")
	assert.NotEqual(t, got.Families[0].F2, got.Families[1].F2)
	for _, f := range got.Families {
		assert.InEpsilon(t, structure.F2(lab6, f.H, f.K, f.L, beam(t, "Cu").Radiation.KAlpha1), f.F2, 1e-9)
	}
	silicon := parse(t, file(refdata.Cell{A: 5.43102, B: 5.43102, C: 5.43102, Alpha: 90, Beta: 90, Gamma: 90}, symbol("F d -3 m:2"), plainAtoms+"Si 0.125 0.125 0.125 0.5"))
	got, ok = line(phase(t, silicon, "Cu"), 3, 3, 3)
	require.True(t, ok)
	assert.Len(t, got.Families, 2, "333 and 511")
	quartz := parse(t, file(refdata.Cell{A: 4.9134, B: 4.9134, C: 5.4052, Alpha: 90, Beta: 90, Gamma: 120}, "loop_\n_symmetry_equiv_pos_as_xyz\n'x,y,z'\n'-y,x-y,z+2/3'\n'-x+y,-x,z+1/3'\n'y,x,-z'\n'x-y,-y,-z+1/3'\n'-x,-x+y,-z+2/3'", plainAtoms+"Si 0.4697 0 0.66667 0.5\nO 0.4135 0.2669 0.78577 0.95"))
	got, ok = line(phase(t, quartz, "Cu"), 1, 0, 1)
	require.True(t, ok)
	require.Len(t, got.Families, 2, "101 and 011")
	assert.Greater(t, math.Abs(got.Families[0].F2/got.Families[1].F2-1), 0.3)
}

const magnetiteAtoms = plainAtoms + "Fe1 0.125 0.125 0.125 0.45\nFe2 0.5 0.5 0.5 0.55\nO 0.2549 0.2549 0.2549 0.60"

// With the wrong origin magnetite keeps its density, so that only contacts tell; the RIR is a third off.
func TestPitfallOrigin(t *testing.T) {
	guessed := parse(t, file(magnetite, symbol("F d -3 m"), magnetiteAtoms))
	assert.Equal(t, "F d -3 m:2", guessed.SpaceGroup)
	assert.Contains(t, codes(guessed.Cautions), "structure-origin-guessed")
	assert.InEpsilon(t, magnetiteRIR, phase(t, guessed, "Cu").RIR.Value, 1e-4)

	wrong := parse(t, file(magnetite, symbol("F d -3 m:1"), magnetiteAtoms))
	assert.InEpsilon(t, guessed.Density(), wrong.Density(), 1e-9)
	assert.InDelta(t, 1.37, phase(t, wrong, "Cu").RIR.Value/magnetiteRIR, 0.01, "as stated: the suffix is obeyed")
	assert.Contains(t, codes(wrong.Cautions), "structure-contact", "but atoms 0.12 Å apart are told of")
	assert.NotContains(t, codes(guessed.Cautions), "structure-contact")

	first := parse(t, file(magnetite, symbol("F d -3 m"), plainAtoms+"Fe1 0 0 0 0.45\nFe2 0.625 0.625 0.625 0.55\nO 0.3799 0.3799 0.3799 0.60"))
	assert.Equal(t, "F d -3 m:1", first.SpaceGroup)
	assert.InEpsilon(t, guessed.Density(), first.Density(), 1e-9)
}

func TestPitfallLoopOverSymbol(t *testing.T) {
	loop := "loop_\n_symmetry_equiv_pos_as_xyz\n'x,y,z'\n'-x,-y,-z'\n"
	s := parse(t, file(copper, symbol("F m -3 m")+"\n"+loop, plainAtoms+"Cu 0.1 0.2 0.3 0.5"))
	assert.Len(t, s.Operators(), 2)
	assert.Contains(t, codes(s.Cautions), "structure-operators", "it does say that they disagree")
	hall := parse(t, file(copper, symbol("P 1")+"\n_symmetry_space_group_name_Hall '-F 4 2 3'", plainAtoms+"Cu 0 0 0 0.56"))
	assert.Len(t, hall.Operators(), 192, "the Hall symbol counts before Hermann and Mauguin's")
	assert.Equal(t, "F m -3 m", hall.SpaceGroup)
	number := parse(t, file(copper, "_symmetry_Int_Tables_number 225", plainAtoms+"Cu 0 0 0 0.56"))
	assert.InEpsilon(t, copperRIR, phase(t, number, "Cu").RIR.Value, 1e-4)
	odd := parse(t, file(copper, symbol("cubic, dense")+"\n_symmetry_Int_Tables_number 225", plainAtoms+"Cu 0 0 0 0.56"))
	assert.Equal(t, "F m -3 m", odd.SpaceGroup)
}

func TestPitfallIncompleteLoop(t *testing.T) {
	s := parse(t, file(copper, "loop_\n_symmetry_equiv_pos_as_xyz\n-y,x,z\nx,y+1/2,z+1/2", plainAtoms+"Cu 0 0 0 0.56"))
	assert.Len(t, s.Operators(), 16, "closed: fourfold axis, then all of F centring")
	assert.Contains(t, codes(s.Cautions), "structure-operators")
}

// Rhombohedral groups are found on both kinds of axes from the cell alone.
func TestPitfallRhombohedralAxes(t *testing.T) {
	corundum := refdata.Cell{A: 4.7591, B: 4.7591, C: 12.9918, Alpha: 90, Beta: 90, Gamma: 120}
	h := parse(t, file(corundum, symbol("R -3 c"), plainAtoms+"Al 0 0 0.35216 0.24\nO 0.30624 0 0.25 0.29"))
	// a' = √(a²/3 + c²/9), sin α/2 = 3/(2√(3 + (c/a)²)): Int. Tables A 5.1 (from memory)
	edge := math.Sqrt(corundum.A*corundum.A/3 + corundum.C*corundum.C/9)
	alpha := 2 * xrd.Degrees(math.Asin(1.5/math.Sqrt(3+corundum.C*corundum.C/corundum.A/corundum.A)))
	r := parse(t, file(refdata.Cell{A: edge, B: edge, C: edge, Alpha: alpha, Beta: alpha, Gamma: alpha}, symbol("R -3 c"), plainAtoms+"Al 0.35216 0.35216 0.35216 0.24\nO 0.55624 -0.05624 0.25 0.29"))
	assert.Equal(t, []string{"R -3 c:H", "R -3 c:R"}, []string{h.SpaceGroup, r.SpaceGroup})
	assert.Equal(t, []refdata.CrystalSystem{refdata.Hexagonal, refdata.Rhombohedral}, []refdata.CrystalSystem{h.System(), r.System()})
	ph, pr := phase(t, h, "Cu"), phase(t, r, "Cu")
	assert.InEpsilon(t, 1.026734, ph.RIR.Value, 1e-4, "oracle")
	assert.InEpsilon(t, ph.RIR.Value, pr.RIR.Value, 1e-4)
	assert.InDelta(t, float64(len(ph.Lines)), float64(len(pr.Lines)), 0)
}

// Images of a special position that is given to three or four digits are one atom, put exactly on its place.
func TestPitfallThirds(t *testing.T) {
	for _, third := range []string{"0.3333 0.6667", "0.333 0.667", "0.33333333 0.66666667", "-0.6667 2.6667"} {
		atoms := strings.ReplaceAll(zinciteAtoms, "0.333333 0.666667", third)
		s := parse(t, file(zincite, symbol("P 63 m c"), atoms))
		assert.Equal(t, 2, s.Sites[0].Multiplicity, third)
		assert.InDelta(t, 1.0/3, s.Sites[0].Position[0]-math.Floor(s.Sites[0].Position[0]), 1e-6, third)
		assert.InEpsilon(t, zinciteRIR, phase(t, s, "Cu").RIR.Value, 1e-4, third)
	}
}

func TestPitfallListedTwice(t *testing.T) {
	s := parse(t, file(copper, symbol("F m -3 m"), plainAtoms+"Cu1 0 0 0 0.56\nCu2 0.5 0.5 0 0.56"))
	assert.Contains(t, codes(s.Cautions), "structure-duplicate-site")
	assert.InEpsilon(t, copperRIR, phase(t, s, "Cu").RIR.Value, 1e-4)
}

const sharedAtoms = "_atom_site_label\n_atom_site_type_symbol\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n_atom_site_occupancy\n_atom_site_B_iso_or_equiv\n"

func TestPitfallSharedSites(t *testing.T) {
	alloy := parse(t, file(copper, symbol("F m -3 m"), sharedAtoms+"Cu1 Cu 0 0 0 0.9 0.56\nSn1 Sn 0 0 0 0.1 0.56"))
	require.Len(t, alloy.Sites, 2, "different elements on one site stay apart")
	assert.Empty(t, alloy.Cautions)
	assert.Equal(t, "Cu0.9Sn0.1", alloy.Formula)
	assert.InDelta(t, 4, alloy.Z, 1e-9)

	valences := parse(t, file(copper, symbol("F m -3 m"), sharedAtoms+"Fe1 Fe2+ 0 0 0 0.4 0.56\nFe2 Fe3+ 0 0 0 0.6 0.56"))
	require.Len(t, valences.Sites, 2, "so do two valences of one element that fill the site together")
	assert.Equal(t, "Fe", valences.Formula)

	full := parse(t, file(copper, symbol("F m -3 m"), sharedAtoms+"Cu1 Cu 0 0 0 0.9 0.56\nSn1 Sn 0 0 0 0.3 0.56"))
	assert.Contains(t, codes(full.Cautions), "structure-overfull-site")
}

func TestPitfallDisplacements(t *testing.T) {
	const u = 0.007599 // Å²: B = 0.6 (oracle's awkward file 32, read)
	head := "_atom_site_label\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n"
	aniso := func(kind, values string) string {
		return head + "Zn1 0.333333 0.666667 0\nloop_\n_atom_site_aniso_label\n_atom_site_aniso_" + kind + "_11\n_atom_site_aniso_" + kind + "_22\n_atom_site_aniso_" + kind + "_33\n_atom_site_aniso_" + kind + "_12\n_atom_site_aniso_" + kind + "_13\n_atom_site_aniso_" + kind + "_23\nZn1 " + values
	}
	for _, c := range []struct {
		name, atoms string
		b, delta    float64
	}{
		{"U", head + "_atom_site_U_iso_or_equiv\nZn1 0.333333 0.666667 0 0.007599(3)", 8 * math.Pi * math.Pi * u, 1e-12},
		{"B counts before U", head + "_atom_site_U_iso_or_equiv\n_atom_site_B_iso_or_equiv\nZn1 0.333333 0.666667 0 0.1 0.6", 0.6, 0},
		{"U where B is ?", head + "_atom_site_U_iso_or_equiv\n_atom_site_B_iso_or_equiv\nZn1 0.333333 0.666667 0 0.007599 ?", 0.6, 2e-5},
		{"isotropic tensor: U12 = U11/2 on hexagonal axes", aniso("U", "0.007599 0.007599 0.007599 0.0037995 0 0"), 0.6, 2e-5},
		{"B tensor", aniso("B", "0.6 0.6 0.6 0.3 0 0"), 0.6, 1e-9},
		{"U12 counts: ⅓ (4/3 (U11 + U22 − U12) + U33) on hexagonal axes (derived)", aniso("B", "0.6 0.6 0.6 0 0 0"), (4.0/3*1.2 + 0.6) / 3, 1e-9},
		{"none", head + "Zn1 0.333333 0.666667 0", structure.DefaultB, 0},
		{"tensor not known", aniso("U", "? ? ? ? ? ?"), structure.DefaultB, 0},
	} {
		s := parse(t, file(zincite, symbol("P 63 m c"), c.atoms))
		assert.InDelta(t, c.b, s.Sites[0].B, c.delta, c.name)
		assert.Equal(t, c.b == structure.DefaultB, slices.Contains(codes(s.Cautions), "structure-b-default"), c.name)
	}
}

func TestPitfallElements(t *testing.T) {
	for _, c := range []struct{ label, symbol, want string }{
		{"Al1", "Al3+", "Al"}, {"O1", "O2-", "O"}, {"O1", "O-2", "O"}, {"X", "CU2+", "Cu"}, {"D1", "D", "H"}, {"Fe", "Fe0+", "Fe"}, {"D2", "?", "H"},
		{"Al1", ".", "Al"}, {"O2A", "?", "O"}, {"OW1", "?", "O"}, {"Wat", "?", "O"}, {"OH", "?", "O"}, {"CU1", "?", "Cu"}, {"Ca(2)", "?", "Ca"}, {"SI1", "?", "Si"}, {"c1", "?", "C"},
	} {
		atoms := strings.TrimSuffix(sharedAtoms, "_atom_site_occupancy\n_atom_site_B_iso_or_equiv\n") + c.label + " " + c.symbol + " 0 0 0"
		assert.Equal(t, c.want, parse(t, file(copper, symbol("F m -3 m"), atoms)).Sites[0].Element.Symbol, "%v", c)
	}
	inFormula := file(copper, symbol("F m -3 m")+"\n_chemical_formula_sum 'C O2'", plainAtoms+"CO1 0 0 0 0.5")
	assert.Equal(t, "C", parse(t, inFormula).Sites[0].Element.Symbol, "the formula decides between carbon and cobalt")
}

func TestPitfallNumbers(t *testing.T) {
	text := "data_x\n_cell_length_a 4.75910(3)\n_cell_length_b 4.75910(3)\n_cell_length_c 12.99180(12)\n_cell_angle_gamma 120\n" + symbol("R -3 c") +
		"\nloop_\n_atom_site_type_symbol\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n_atom_site_occupancy\n_atom_site_U_iso_or_equiv\nAl 0 0 0.35216(1) . 0.00304(2)\nO 0.30624(4) 0 1/4 1.0 0.0037\nH . ? . 1 ?\n"
	_, err := structure.Read(strings.NewReader(text), "x.cif")
	require.Error(t, err, "1/4 is no CIF number")
	s := parse(t, strings.Replace(text, "1/4", "0.25", 1))
	assert.InDelta(t, 0.35216, s.Sites[0].Position[2], 1e-12)
	assert.Equal(t, []string{"structure-atoms-without-place"}, codes(s.Cautions))
	assert.Equal(t, "Al2O3", s.Formula)
	assert.InDelta(t, 6, s.Z, 1e-9)
	assert.Equal(t, 1.0, s.Sites[0].Occupancy, "a point is the default")
}

func TestPitfallLineEnds(t *testing.T) {
	text := "\ufeff" + strings.ReplaceAll(strings.ReplaceAll(file(zincite, symbol("P 63 m c"), zinciteAtoms), "_cell", "_CELL"), "\n", "\r\n")
	assert.InEpsilon(t, zinciteRIR, phase(t, parse(t, text), "Cu").RIR.Value, 1e-4)
}

func TestPitfallBlocks(t *testing.T) {
	first := file(copper, symbol("F m -3 m"), plainAtoms+"Cu 0 0 0 0.56")
	second := strings.Replace(file(zincite, symbol("P 63 m c"), zinciteAtoms), "data_test", "data_zinc\n_chemical_name_mineral zincite", 1)
	list, err := structure.Read(strings.NewReader("data_global\n_journal_year 1999\n"+first+second), "a/b/two.cif")
	require.NoError(t, err)
	require.Len(t, list, 2, "the block without atoms is none")
	assert.Equal(t, []string{"two", "two-zinc"}, []string{list[0].ID, list[1].ID})
	assert.Equal(t, []string{"two", "zincite"}, []string{list[0].Name, list[1].Name})
}

// LP diverges at 180°: what is asked for beyond 175° is cut, intensities stay finite, and the RIR does not notice.
func TestPitfallNear180(t *testing.T) {
	s := parse(t, file(copper, symbol("F m -3 m"), plainAtoms+"Cu 0 0 0 0.56"))
	for _, wavelength := range []string{"1.5406", "1.4757", "2.0870", "1.27806"} { // the last: 2d of 220 is 2.5561, of 440 λ exactly
		r, err := xrd.ParseRadiation(wavelength)
		require.NoError(t, err)
		wide, err := s.Phase(refdata.Beam{Radiation: r, MaxTwoTheta: 180})
		require.NoError(t, err)
		usual, err := s.Phase(refdata.Beam{Radiation: r})
		require.NoError(t, err)
		assert.Equal(t, usual.RIR, wide.RIR)
		for _, l := range wide.Lines {
			assert.LessOrEqual(t, l.TwoTheta, 175.0)
			assert.False(t, math.IsInf(l.Intensity, 0) || math.IsNaN(l.Intensity))
		}
	}
}

// Lines and RIR of a short range refer to the strongest line outside it.
func TestPitfallStrongestOutOfRange(t *testing.T) {
	s := parse(t, file(copper, symbol("F m -3 m"), plainAtoms+"Cu 0 0 0 0.56"))
	all := phase(t, s, "Mo")
	b := beam(t, "Mo")
	b.MaxTwoTheta = 18 // 111 is at 19.6°
	short, err := s.Phase(b)
	require.NoError(t, err)
	assert.Empty(t, short.Lines)
	assert.Equal(t, all.RIR, short.RIR)
	b.MaxTwoTheta = 60
	short, err = s.Phase(b)
	require.NoError(t, err)
	assert.Equal(t, all.Lines[:len(short.Lines)], short.Lines)
}
