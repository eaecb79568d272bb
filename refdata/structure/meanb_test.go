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
