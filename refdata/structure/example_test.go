package structure_test

import (
	"fmt"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

func ExampleRead() {
	const text = `data_copper
_cell_length_a 3.61491(2)
_cell_length_b 3.61491(2)
_cell_length_c 3.61491(2)
_space_group_name_H-M_alt 'F m 3 m'
loop_
_atom_site_label
_atom_site_fract_x
_atom_site_fract_y
_atom_site_fract_z
Cu1 0 0 0
`
	list, err := structure.Read(strings.NewReader(text), "copper.cif")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, s := range list {
		fmt.Printf("%s: %s, %s, Z = %g, %.3f g/cm³\n", s.ID, s.Formula, s.SpaceGroup, s.Z, s.Density())
		for _, c := range s.Cautions {
			fmt.Println(c.Text)
		}
	}
	_, err = structure.Read(strings.NewReader(strings.Replace(text, "Cu1 0", "Cu1 x", 1)), "copper.cif")
	fmt.Println(err)
	// Output:
	// copper: Cu, F m -3 m, Z = 4, 8.935 g/cm³
	// No displacement parameter is stated for Cu1; B = 0.5 Å² is taken.
	// copper.cif:11: coordinate of Cu1: not a number: "x"; give fractions of the cell edges
}

func ExampleFindSettings() {
	hexagonal := refdata.Cell{A: 4.759, B: 4.759, C: 12.992, Alpha: 90, Beta: 90, Gamma: 120}
	for _, spelling := range []string{"R -3 c", "P 6(3) M C", "F d -3 m"} {
		found, err := structure.FindSettings(spelling, hexagonal)
		fmt.Println(found, err)
	}
	// Output:
	// [R -3 c:H] <nil>
	// [P 63 m c] <nil>
	// [F d -3 m:1 F d -3 m:2] <nil>
}

func ExampleStructure_HeightRIR() {
	s, err := structure.FromRecord(structure.Corundum())
	if err != nil {
		fmt.Println(err)
		return
	}
	cu, _ := xrd.ParseRadiation("Cu")
	for _, fwhm := range []float64{0.05, 0.1} {
		r, err := s.HeightRIR(refdata.Beam{Radiation: cu}, fwhm)
		fmt.Printf("FWHM %.2f°: %.3f by %s %v\n", fwhm, r.Value, r.Basis, err)
	}
	// Output:
	// FWHM 0.05°: 1.022 by height <nil>
	// FWHM 0.10°: 1.038 by height <nil>
}
