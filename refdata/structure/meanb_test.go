package structure_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// The mean B of corundum, by hand from its published values (B 0.24 for 12 Al, 0.29 for 18 O, weights Z²):
// (12·169·0.24 + 18·64·0.29)/(12·169 + 18·64) = 0.2581.
func TestMeanB(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	s, err := structure.FromRecord(structure.Corundum())
	require.NoError(t, err)
	p, err := s.Phase(refdata.Beam{Radiation: cu})
	require.NoError(t, err)
	assert.InDelta(t, 0.2581, p.MeanB, 5e-5)
	assert.False(t, p.AssumedB)
	// 0.3 √(486.72² + 334.08²)/3180 = 0.05569, by hand, with the same weights
	assert.InDelta(t, 0.05569, p.MeanBU, 5e-6)
}

// The uncertainty of a mean does not depend on how an element is written on sites, is that of the element where there is one,
// and that of all atoms together where the values are typical of a class.
func TestUncertaintyOfMeanB(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	const head = "data_x\n_cell_length_a 4\n_cell_length_b 4\n_cell_length_c 4\n_cell_angle_alpha 90\n_cell_angle_beta 90\n_cell_angle_gamma 90\n" +
		"_symmetry_space_group_name_H-M 'P 1'\nloop_\n_atom_site_label\n_atom_site_type_symbol\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n_atom_site_B_iso_or_equiv\n"
	of := func(confidence, atoms string) refdata.Phase {
		s, err := structure.Read(strings.NewReader(head+atoms), "x.cif")
		require.NoError(t, err)
		s[0].Confidence = confidence
		p, err := s[0].Phase(refdata.Beam{Radiation: cu})
		require.NoError(t, err)
		return p
	}
	one := of("", "A1 Cu 0 0 0 0.5\nA2 Cu 0.5 0.5 0 0.5\n")
	assert.InDelta(t, 0.3*0.5, one.MeanBU, 1e-12, "one element on two sites")
	// By hand, weights Z²: Zn 900, O 64, B 0.6 and 0.62: 0.3 √((900·0.6)² + (64·0.62)²)/964 = 0.16850
	two := of("", "A1 Zn 0 0 0 0.6\nA2 O 0.5 0.5 0.5 0.62\n")
	assert.InDelta(t, 0.16850, two.MeanBU, 5e-6)
	assert.InDelta(t, 0.3*two.MeanB, of("medium", "A1 Zn 0 0 0 0.6\nA2 O 0.5 0.5 0.5 0.62\n").MeanBU, 1e-12, "typical values")
	assert.InDelta(t, 0.3*two.MeanB, of("low", "A1 Zn 0 0 0 0.6\nA2 O 0.5 0.5 0.5 0.62\n").MeanBU, 1e-12, "typical values")
	assert.InDelta(t, two.MeanBU, of("high", "A1 Zn 0 0 0 0.6\nA2 O 0.5 0.5 0.5 0.62\n").MeanBU, 1e-12)
}

func TestMeanBOfAStructureWithoutAny(t *testing.T) {
	const cif = `data_x
_cell_length_a 3.6
_cell_length_b 3.6
_cell_length_c 3.6
_cell_angle_alpha 90
_cell_angle_beta 90
_cell_angle_gamma 90
_symmetry_space_group_name_H-M 'F m -3 m'
loop_
_atom_site_label
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
Cu 0 0 0
`
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	s, err := structure.Read(strings.NewReader(cif), "x.cif")
	require.NoError(t, err)
	p, err := s[0].Phase(refdata.Beam{Radiation: cu})
	require.NoError(t, err)
	assert.Equal(t, structure.DefaultB, p.MeanB)
	assert.True(t, p.AssumedB)
}
