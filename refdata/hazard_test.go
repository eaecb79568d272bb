package refdata_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
)

// What is harmful, by general knowledge of laboratory safety (from memory).
func TestHazards(t *testing.T) {
	for _, c := range []struct {
		name, formula string
		want          []string
	}{
		{"lead", "Pb", []string{"lead"}},
		{"quartz", "SiO2", []string{"silica"}},
		{"an unnamed form", "Si3O6", []string{"silica"}},
		{"forsterite", "Mg2SiO4", nil},
		{"beryllium copper", "CuBe", []string{"beryllium"}},
		{"greenockite", "CdS", []string{"cadmium"}},
		{"crocoite", "PbCrO4", []string{"lead", "chromium(VI)"}},
		{"potassium dichromate", "K2Cr2O7", []string{"chromium(VI)"}},
		{"chromium trioxide", "CrO3", []string{"chromium(VI)"}},
		{"eskolaite", "Cr2O3", nil},
		{"magnesiochromite", "MgCr2O4", nil},
		{"uvarovite", "Ca3Cr2(SiO4)3", nil},
		{"chrysotile", "Mg3Si2O5(OH)4", []string{"asbestos"}},
		{"tremolite", "Ca2Mg5Si8O22(OH)2", []string{"asbestos"}},
		{"nickel", "Ni", []string{"nickel"}},
		{"nickeline", "NiAs", []string{"nickel", "arsenic"}},
		{"copper", "Cu", nil},
		{"wüstite", "Fe1-xO", nil},
	} {
		var got []string
		for _, h := range refdata.Hazards(refdata.Phase{Name: c.name, Formula: c.formula}) {
			got = append(got, h.Code)
			assert.NotEmpty(t, h.Text)
		}
		assert.Equal(t, c.want, got, c.name)
	}
	open := refdata.Phase{Name: "a bronze", Formula: "Cu1-xPbx", Composition: []refdata.ElementShare{{Symbol: "Cu", MassFraction: 0.9}, {Symbol: "Pb", MassFraction: 0.1}}}
	assert.Len(t, refdata.Hazards(open), 1, "open amounts name their elements")
	for _, code := range []int{0, 1} { // both say what the fraction is not
		h := refdata.Hazards(refdata.Phase{Name: []string{"quartz", "chrysotile"}[code], Formula: "SiO2"})
		assert.Contains(t, h[len(h)-1].Text, "not an exposure measurement")
	}
}
