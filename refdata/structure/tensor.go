package structure

import (
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd/cif"
)

// A tensor is an anisotropic displacement: U or B with components 11, 22, 33, 12, 13, 23 on the reciprocal axes of unit length.
type tensor struct {
	component [6]float64
	factor    float64 // to B: 1 or 8π²
	line      int
}

var components = []string{"11", "22", "33", "12", "13", "23"}

// tensors reads the anisotropic displacements by label; rows that are not complete are passed over.
func (b *cifReader) tensors() (map[string]tensor, error) {
	labels := b.Column("_atom_site_aniso_label", "_atom_site_label")
	all := map[string]tensor{}
	for _, kind := range []struct {
		tag    string
		factor float64
	}{{"_atom_site_aniso_B_", 1}, {"_atom_site_aniso_U_", eightPi2}} {
		var columns [6][]cif.Value
		for i, c := range components {
			columns[i] = b.Column(kind.tag + c)
		}
		for row := range columns[0] {
			if row >= len(labels) {
				break
			}
			t, ok, err := b.tensor(columns, row)
			if err != nil {
				return nil, err
			}
			if t.factor = kind.factor; ok {
				all[labels[row].Text] = t
			}
		}
	}
	return all, nil
}

func (b *cifReader) tensor(columns [6][]cif.Value, row int) (t tensor, ok bool, err error) {
	for i, column := range columns {
		if row >= len(column) || !column[row].Given() {
			return t, false, nil
		}
		if t.component[i], _, err = column[row].Number(); err != nil {
			return t, false, b.fail(column[row].Line, fmt.Errorf("anisotropic displacement: %w", err), "give a number in Å², or ?")
		}
	}
	t.line = columns[0][row].Line
	return t, true, nil
}

// equivalent returns the isotropic B: ⅓ Σ B_ij a*_i a*_j a_i·a_j. Source: Fischer & Tillmanns, Acta Cryst. C44 (1988) 775 (from memory).
func (t tensor) equivalent(cell refdata.Cell) float64 {
	g, r := cell.Direct(), cell.Reciprocal()
	direct := [6]float64{g[0], g[1], g[2], g[5], g[4], g[3]} // in the order of components
	star := [3]float64{math.Sqrt(r[0]), math.Sqrt(r[1]), math.Sqrt(r[2])}
	pairs := [6][2]int{{0, 0}, {1, 1}, {2, 2}, {0, 1}, {0, 2}, {1, 2}}
	var sum float64
	for i, p := range pairs {
		term := t.component[i] * star[p[0]] * star[p[1]] * direct[i]
		if p[0] != p[1] {
			term *= 2
		}
		sum += term
	}
	return t.factor * sum / 3
}
