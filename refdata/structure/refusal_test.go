package structure_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/cif"
)

// good is a complete CIF; each refusal changes one thing in it. Lines are counted from 1.
const good = `data_copper
_cell_length_a 3.61491
_cell_length_b 3.61491
_cell_length_c 3.61491
_cell_angle_alpha 90
_cell_angle_beta 90
_cell_angle_gamma 90
_space_group_name_H-M_alt 'F m -3 m'
loop_
_atom_site_label
_atom_site_type_symbol
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
_atom_site_occupancy
_atom_site_B_iso_or_equiv
Cu1 Cu 0 0 0 1 0.56
`

func TestRefusals(t *testing.T) {
	parse(t, good)
	atom := "Cu1 Cu 0 0 0 1 0.56"
	for _, c := range []struct {
		name, old, new string
		want           error
		line           int
	}{
		{"no atoms", "loop_", "# loop_", cif.ErrNoValue, 10},
		{"no rows", atom, "", structure.ErrNoAtoms, 1},
		{"all without place", atom, "Cu1 Cu ? ? ? 1 0.56", structure.ErrNoAtoms, 1},
		{"all unoccupied", atom, "Cu1 Cu 0 0 0 0 0.56", structure.ErrNoAtoms, 1},
		{"no cell", "_cell_length_a 3.61491\n", "", structure.ErrNoCell, 1},
		{"cell unknown", "_cell_length_b 3.61491", "_cell_length_b ?", structure.ErrNoCell, 1},
		{"cell is a word", "_cell_length_b 3.61491", "_cell_length_b big", cif.ErrNotANumber, 3},
		{"gigantic cell", "_cell_length_c 3.61491", "_cell_length_c 2000", refdata.ErrImpossibleCell, 4},
		{"negative edge", "_cell_length_a 3.6", "_cell_length_a -3.6", refdata.ErrImpossibleCell, 2},
		{"flat cell", "_cell_angle_gamma 90", "_cell_angle_gamma 179", refdata.ErrImpossibleCell, 7},
		{"angles enclose nothing", "_cell_angle_alpha 90\n_cell_angle_beta 90", "_cell_angle_alpha 30\n_cell_angle_beta 30", refdata.ErrImpossibleCell, 7},
		{"cell against symmetry", "_cell_length_c 3.61491", "_cell_length_c 4.1", structure.ErrMisfit, 7},
		{"no symmetry", "_space_group_name_H-M_alt 'F m -3 m'", "", structure.ErrNoSymmetry, 1},
		{"unknown group", "F m -3 m", "F m m 3 m", structure.ErrSpaceGroup, 8},
		{"unknown number", "_space_group_name_H-M_alt 'F m -3 m'", "_space_group_IT_number 231", structure.ErrSpaceGroup, 8},
		{"bad Hall symbol", "_space_group_name_H-M_alt 'F m -3 m'", "_space_group_name_Hall 'F 5'", structure.ErrHall, 8},
		{"bad operator", "_space_group_name_H-M_alt 'F m -3 m'", "loop_\n_symmetry_equiv_pos_as_xyz\nx,y,z\n-x,y,q", structure.ErrOperator, 11},
		{"no group", "_space_group_name_H-M_alt 'F m -3 m'", "loop_\n_symmetry_equiv_pos_as_xyz\nx+y,y,z", structure.ErrGroup, 10},
		{"unknown element", "Cu1 Cu", "Cu1 Xq", structure.ErrElement, 17},
		{"element beyond uranium", "Cu1 Cu", "Cu1 Np", structure.ErrElement, 17},
		{"unknown label", "Cu1 Cu", "9 ?", structure.ErrElement, 17},
		{"occupancy above 1", "0 0 0 1 0", "0 0 0 1.2 0", structure.ErrOccupancy, 17},
		{"negative occupancy", "0 0 0 1 0", "0 0 0 -1 0", structure.ErrOccupancy, 17},
		{"occupancy is a word", "0 0 0 1 0", "0 0 0 full 0", cif.ErrNotANumber, 17},
		{"negative B", "1 0.56", "1 -0.56", structure.ErrBValue, 17},
		{"huge B", "1 0.56", "1 560", structure.ErrBValue, 17},
		{"B is a word", "1 0.56", "1 none", cif.ErrNotANumber, 17},
		{"coordinate is a word", "Cu 0 0", "Cu 0 none", cif.ErrNotANumber, 17},
		{"coordinate in pm", "Cu 0 0", "Cu 0 361", structure.ErrPosition, 17},
		{"a column in another loop", "_atom_site_fract_x", "_atom_site_fract_X1", structure.ErrNoAtoms, 0},
	} {
		require.Contains(t, good, c.old, c.name)
		_, err := structure.Read(strings.NewReader(strings.Replace(good, c.old, c.new, 1)), "copper.cif")
		var at *xrd.SyntaxError
		if assert.ErrorAs(t, err, &at, c.name) {
			assert.ErrorIs(t, err, c.want, c.name)
			assert.Equal(t, "copper.cif", at.File, c.name)
			assert.Equal(t, c.line, at.Line, "%s: %v", c.name, err)
			assert.NotEmpty(t, at.Fix, c.name)
		}
	}
}

func TestRefusedTensor(t *testing.T) {
	text := strings.Replace(good, "1 0.56", "1 ?", 1) + "loop_\n_atom_site_aniso_label\n_atom_site_aniso_U_11\n_atom_site_aniso_U_22\n_atom_site_aniso_U_33\n_atom_site_aniso_U_12\n_atom_site_aniso_U_13\n_atom_site_aniso_U_23\nCu1 -0.1 -0.1 0.01 0 0 0\n"
	_, err := structure.Read(strings.NewReader(text), "x.cif")
	assert.ErrorIs(t, err, structure.ErrBValue)
	_, err = structure.Read(strings.NewReader(strings.Replace(text, "-0.1", "thin", 1)), "x.cif")
	assert.ErrorIs(t, err, cif.ErrNotANumber)
}

func TestRefusedRecords(t *testing.T) {
	for name, change := range map[string]func(*refdata.Record){
		"no symmetry":      func(r *refdata.Record) { r.SpaceGroup = "" },
		"unknown symmetry": func(r *refdata.Record) { r.SpaceGroup = "X" },
		"bad Hall symbol":  func(r *refdata.Record) { r.SpaceGroup = "Hall: X" },
		"bad operator":     func(r *refdata.Record) { r.Operators = []string{"x,y"} },
		"no group":         func(r *refdata.Record) { r.Operators = []string{"x+y,y,z"} },
		"unknown element":  func(r *refdata.Record) { r.Atoms = []refdata.Atom{{Element: "Xq", Occupancy: 1}} },
		"no atoms":         func(r *refdata.Record) { r.Atoms = nil },
		"no cell":          func(r *refdata.Record) { r.Cell = refdata.Cell{} },
	} {
		r := structure.Corundum()
		change(&r)
		_, err := structure.FromRecord(r)
		var at *xrd.SyntaxError
		if assert.ErrorAs(t, err, &at, name) {
			assert.Equal(t, "corundum", at.File, name)
		}
	}
}

// The symmetry of a record may be operators, a Hall symbol or a Hermann–Mauguin symbol: all the same.
func TestRecordSymmetries(t *testing.T) {
	r := structure.Corundum()
	want, err := structure.FromRecord(r)
	require.NoError(t, err)
	r.SpaceGroup = "Hall: -R 3 2\"c"
	hall, err := structure.FromRecord(r)
	require.NoError(t, err)
	assert.Equal(t, want, hall)
	r.SpaceGroup = "R -3 c:H"
	for _, op := range want.Operators() {
		r.Operators = append(r.Operators, op.String())
	}
	loop, err := structure.FromRecord(r)
	require.NoError(t, err)
	assert.InEpsilon(t, phase(t, want, "Cu").RIR.Value, phase(t, loop, "Cu").RIR.Value, 1e-12)
}

// A structure within the limits of a file may still have too many reflections for a short wavelength.
func TestTooManyReflections(t *testing.T) {
	big := refdata.Cell{A: 150, B: 150, C: 150, Alpha: 80, Beta: 90, Gamma: 90}
	s := parse(t, file(big, symbol("P 1"), plainAtoms+"Cu 0 0 0 0.5"))
	_, err := s.Phase(beam(t, "Ag"))
	assert.ErrorIs(t, err, structure.ErrTooBig)
	_, err = s.HeightRIR(beam(t, "Ag"), 0.1)
	assert.ErrorIs(t, err, structure.ErrTooBig)
	var rows strings.Builder
	for i := range structure.MaxSites + 1 {
		fmt.Fprintf(&rows, "Cu%d 0.%05d 0 0 0.5\n", i, i)
	}
	_, err = structure.Read(strings.NewReader(file(big, symbol("P 1"), plainAtoms+rows.String())), "x.cif")
	assert.ErrorIs(t, err, structure.ErrTooBig)
}

func TestRefusedBeams(t *testing.T) {
	s := parse(t, good)
	_, err := s.Phase(refdata.Beam{})
	assert.ErrorIs(t, err, xrd.ErrUnknownRadiation)
	for _, width := range []float64{0, -1, 3} {
		_, err = s.HeightRIR(beam(t, "Cu"), width)
		assert.True(t, errors.Is(err, structure.ErrWidth))
	}
	long := refdata.Beam{Radiation: xrd.Radiation{Name: "4.3", KAlpha1: 4.3}} // longer than twice corundum 113 and copper 111
	p, err := s.Phase(long)
	require.NoError(t, err)
	assert.Empty(t, p.Lines)
	assert.Zero(t, p.RIR)
	height, err := s.HeightRIR(long, 0.1)
	require.NoError(t, err)
	assert.Zero(t, height)
}

func TestWavelengthBetweenTubes(t *testing.T) {
	r, err := xrd.ParseRadiation("1.0")
	require.NoError(t, err)
	p, err := parse(t, good).Phase(refdata.Beam{Radiation: r})
	require.NoError(t, err)
	assert.Contains(t, codes(p.Cautions), "structure-dispersion")
	assert.Positive(t, p.MassAbsorption)
	assert.NotContains(t, codes(phase(t, parse(t, good), "Cu").Cautions), "structure-dispersion")
}

// A structure written as a record and read again is the same, whatever its symmetry came from.
func TestRecordRoundTrip(t *testing.T) {
	for name, text := range map[string]string{
		"symbol":    good,
		"operators": file(copper, "loop_\n_symmetry_equiv_pos_as_xyz\nx,y,z\n-x,-y,z+1/2\nx,y,z+1/4", plainAtoms+"Cu 0.1 0.2 0.3 0.5"),
		"origin":    file(magnetite, symbol("F d -3 m"), magnetiteAtoms),
		"Hall":      file(copper, "_space_group_name_Hall 'P 4 (1 1 0)'", plainAtoms+"Cu 0.1 0.2 0.3 0.5"),
	} {
		s := parse(t, text)
		r := s.Record()
		assert.Equal(t, name == "operators", r.Operators != nil, name)
		again, err := structure.FromRecord(r)
		require.NoError(t, err, name)
		assertSamePhase(t, phase(t, s, "Cu"), phase(t, again, "Cu"), name)
		assert.Equal(t, s.Elements(), again.Elements())
		assert.True(t, s.Elements().Len() > 0)
	}
}
