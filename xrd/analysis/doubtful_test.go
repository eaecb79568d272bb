package analysis_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/simulate"
)

// wurtzite is zincite with its oxygen at a height z; 0.382 is right (from memory).
func wurtzite(t testing.TB, z float64) *structure.Structure {
	t.Helper()
	s, err := structure.Read(strings.NewReader(fmt.Sprintf(`data_zincite
_chemical_name_mineral 'made zincite'
_cell_length_a 3.250
_cell_length_b 3.250
_cell_length_c 5.207
_cell_angle_alpha 90
_cell_angle_beta 90
_cell_angle_gamma 120
_symmetry_space_group_name_H-M 'P 63 m c'
loop_
_atom_site_label
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
_atom_site_B_iso_or_equiv
Zn 0.3333 0.6667 0 0.5
O 0.3333 0.6667 %.4f 0.5
`, z)), "zincite.cif")
	require.NoError(t, err)
	return s[0]
}

// oneOf is the starter collection with one structure in the place of its zincite.
type oneOf struct {
	identify.Collection
	made *structure.Structure
}

func (c oneOf) Phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	if c.Entry(i).ID != "zincite" {
		return c.Collection.Phase(i, beam)
	}
	p, err := c.made.Phase(beam)
	p.ID = "zincite"
	return p, err
}

// TestDoubtfulReference: a scan of zincite, fluorite and corundum is analysed with the structure that it was simulated with and
// with one whose oxygen is wrong by 0.037. Neither strong texture nor lines that scatter by 20 %, as those of few grains, are
// taken for a wrong structure.
func TestDoubtfulReference(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for _, c := range []struct {
		name    string
		z       float64
		march   float64
		scatter float64
		doubt   bool
	}{
		{"right", 0.382, 1, 0, false}, {"wrong", 0.345, 1, 0, true}, {"textured", 0.382, 0.6, 0, false}, {"textured and wrong", 0.345, 0.8, 0, true}, {"few grains", 0.382, 1, 0.2, false},
	} {
		s := simulate.Job{Radiation: cu, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 140, Step: 0.02, Time: 2, Rate: 4000, Background: 20, LineScatter: c.scatter, Seed: 11}
		for _, id := range []string{"zincite", "fluorite", "corundum"} {
			lib := oneOf{library.Starter(), wurtzite(t, 0.382)}
			i, err := analysis.Find(lib, id)
			require.NoError(t, err)
			p, err := lib.Phase(i, refdata.Beam{Radiation: cu})
			require.NoError(t, err)
			part := simulate.Component{Phase: p, WeightPercent: 33.3}
			if id == "zincite" {
				part.WeightPercent, part.Pole, part.March = 33.4, [3]int{0, 0, 1}, c.march
			}
			s.Components = append(s.Components, part)
		}
		made, err := simulate.Run(s)
		require.NoError(t, err)
		scan, err := xrd.NewScan(made.TwoTheta, simulate.Count(made.Expected, 7), nil, xrd.ScanInfo{})
		require.NoError(t, err)
		j := job(t, scan, "Cu")
		j.Phases, j.Collection = []string{"zincite", "fluorite", "corundum"}, oneOf{library.Starter(), wurtzite(t, c.z)}
		doc := run(t, j)
		var of []any
		for _, caution := range doc.Cautions {
			if caution.Code == "reference-doubtful" {
				of = append(of, caution.Evidence["phase"])
			}
		}
		if c.doubt {
			assert.Equal(t, []any{"zincite"}, of, c.name)
		} else {
			assert.Empty(t, of, c.name)
		}
	}
}
