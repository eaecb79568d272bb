package structure_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/refdata"
	"phasetally/refdata/structure"
)

// brucite is Mg(OH)2 with one formula unit in the cell.
func brucite(formula, extra string) string {
	cell := refdata.Cell{A: 3.15, B: 3.15, C: 4.77, Alpha: 90, Beta: 90, Gamma: 120}
	item := ""
	if formula != "" {
		item = "\n_chemical_formula_sum '" + formula + "'"
	}
	return file(cell, symbol("P -3 m 1")+item+extra, plainAtoms+"Mg 0 0 0 0.5\nO 0.333333 0.666667 0.22 0.5\nH 0.333333 0.666667 0.42 1.0")
}

func TestFormulaAndZ(t *testing.T) {
	for _, c := range []struct {
		given, want string
		z           float64
	}{
		{"Mg(OH)2", "Mg(OH)2", 1}, {"H2 Mg O2", "H2MgO2", 1}, {"Mg O2 H2", "MgO2H2", 1}, {"Mg0.5 O H", "Mg0.5OH", 2}, {"[Mg(OH)2]2", "[Mg(OH)2]2", 0.5}, {"", "MgO2H2", 1},
		{"MGO2H2", "MgO2H2", 1}, {"Mg (OH", "MgO2H2", 1}, {"?", "MgO2H2", 1}, {"Mg)2", "MgO2H2", 1}, {"Mg O2 Xq", "MgO2H2", 1}, {"Mg-O2", "MgO2H2", 1},
		{strings.Repeat("(", 20) + "O", "MgO2H2", 1}, {strings.Repeat("Mg", 300), "MgO2H2", 1}, {"Mg0O0", "MgO2H2", 1},
	} {
		s := parse(t, brucite(c.given, ""))
		assert.Equal(t, c.want, s.Formula, c.given)
		assert.InDelta(t, c.z, s.Z, 1e-9, c.given)
		assert.NotContains(t, codes(s.Cautions), "structure-formula", c.given)
	}
}

func TestFormulaIsChecked(t *testing.T) {
	for _, c := range []struct {
		name, formula, extra, code string
	}{
		{"another ratio", "Mg O", "", "structure-formula"},
		{"another element", "Mg F2", "", "structure-formula"},
		{"an element more", "Mg Si O2", "", "structure-formula"},
		{"hydrogen that the formula does not have", "Mg O2", "", "structure-formula"},
		{"hydrogen that the list of atoms does not have", "Mg O2 H4", "", "structure-hydrogen"},
		{"right Z", "Mg O2 H2", "\n_cell_formula_units_Z 1", ""},
		{"wrong Z", "Mg O2 H2", "\n_cell_formula_units_Z 4", "structure-z"},
	} {
		got := codes(parse(t, brucite(c.formula, c.extra)).Cautions)
		if c.code == "" {
			assert.Empty(t, got, c.name)
		} else {
			assert.Equal(t, []string{c.code}, got, c.name)
		}
	}
}

// Without a formula partial occupancies are divided by the multiplicities of the sites.
func TestFormulaOfAlloy(t *testing.T) {
	s := parse(t, file(copper, symbol("F m -3 m"), sharedAtoms+"Cu1 Cu 0 0 0 0.917 0.56\nSn1 Sn 0 0 0 0.083 0.56"))
	assert.Equal(t, "Cu0.917Sn0.083", s.Formula)
	assert.InDelta(t, 4, s.Z, 1e-12)
	var sum float64
	for _, share := range s.Composition() {
		sum += share.MassFraction
	}
	assert.InDelta(t, 1, sum, 1e-12)
	assert.Equal(t, refdata.ElementSet{}.With(29).With(50), s.Elements())
}

// Origins that contacts do not tell apart are told apart by the formula: with MgCu2 on the wrong origin the elements change places.
func TestOriginByFormula(t *testing.T) {
	laves := refdata.Cell{A: 7.034, B: 7.034, C: 7.034, Alpha: 90, Beta: 90, Gamma: 90}
	text := file(laves, symbol("F d -3 m")+"\n_chemical_formula_sum 'Mg Cu2'", plainAtoms+"Mg 0 0 0 0.5\nCu 0.625 0.625 0.625 0.5")
	s := parse(t, text)
	assert.Equal(t, "F d -3 m:1", s.SpaceGroup)
	assert.InDelta(t, 8, s.Z, 1e-9)
	assert.NotContains(t, codes(s.Cautions), "structure-formula")
	assert.Contains(t, codes(s.Cautions), "structure-origin-guessed")
}

// The composition and absorption of a phase: μ/ρ is the mean by mass (Int. Tables C 4.2.4).
func TestMassAbsorption(t *testing.T) {
	s := parse(t, brucite("", ""))
	mu, basis := s.MassAbsorption(1.54059291)
	assert.Equal(t, "tabulated", basis.String())
	want := (24.305*39.0 + 2*15.9994*11.424 + 2*1.00794*0.39121) / (24.305 + 2*15.9994 + 2*1.00794) // O, H read; Mg 39.0 rounded
	assert.InEpsilon(t, want, mu, 0.02)
	p := phase(t, s, "Cu")
	assert.InEpsilon(t, mu*p.Density, p.MuLinear(), 1e-12)
	_, err := structure.FromRecord(s.Record())
	assert.NoError(t, err)
}
