package structure_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
)

// Hydrogen without places has its mass: brucite with and without its hydrogen atoms has one density, composition and
// absorption (exact), that of the handbooks, 2.37 g/cm³ (from memory: 2.38–2.40), and one I/Ic but for what hydrogen scatters.
func TestHydrogenOfTheFormulaIsCounted(t *testing.T) {
	whole := parse(t, brucite("Mg O2 H2", ""))
	text := strings.Replace(brucite("Mg O2 H2", ""), "\nH 0.333333 0.666667 0.42 1.0", "", 1)
	bare := parse(t, text)
	assert.InEpsilon(t, 2.37, bare.Density(), 0.01)
	assert.InEpsilon(t, whole.Density(), bare.Density(), 1e-9)
	assert.InDelta(t, 1, bare.Z, 1e-9)
	assert.Equal(t, []string{"structure-hydrogen"}, codes(bare.Cautions))
	assert.Equal(t, whole.Elements(), bare.Elements())
	share := map[string]float64{}
	for _, s := range bare.Composition() {
		share[s.Symbol] = s.MassFraction
	}
	for _, s := range whole.Composition() {
		assert.InDelta(t, s.MassFraction, share[s.Symbol], 1e-9, s.Symbol)
	}
	mu, _ := whole.MassAbsorption(1.5406)
	got, _ := bare.MassAbsorption(1.5406)
	assert.InEpsilon(t, mu, got, 1e-9)
	assert.InEpsilon(t, phase(t, whole, "Cu").RIR.Value, phase(t, bare, "Cu").RIR.Value, 0.12, "what hydrogen scatters")
	assert.Greater(t, phase(t, bare, "Cu").RIR.RelU, 0.08, "2 of 30 electrons (derived) beside 5 %")
	again, err := structure.FromRecord(bare.Record())
	require.NoError(t, err)
	assert.InEpsilon(t, bare.Density(), again.Density(), 1e-12, "and it survives a record")
}

// Gibbsite has 2.42 g/cm³ (handbooks give 2.40–2.44, from memory); its atoms alone make 2.33.
func TestGibbsite(t *testing.T) {
	f, err := os.Open(shared(t, "data", "weighed", "gibbsite.cif"))
	require.NoError(t, err)
	defer f.Close()
	list, err := structure.Read(f, "gibbsite.cif")
	require.NoError(t, err)
	assert.InDelta(t, 2.42, list[0].Density(), 0.01)
	assert.Contains(t, codes(list[0].Cautions), "structure-hydrogen")
	assert.InDelta(t, 8, list[0].Z, 1e-6)
}

// Metals that share a site make a solid solution; a metal and a non-metal, or one metal twice, do not.
func TestSharedSitesAreSolidSolutions(t *testing.T) {
	for text, want := range map[string]bool{
		"Cu1 Cu 0 0 0 0.917 0.56\nSn1 Sn 0 0 0 0.083 0.56": true,
		"Cu1 Cu 0 0 0 0.5 0.56\nSn1 Sn 1 0 0 0.5 0.56":     true, // the same place in the next cell
		"Cu1 Cu 0 0 0 0.917 0.56\nO1 O 0 0 0 0.083 0.56":   false,
		"Fe2 Fe 0 0 0 0.5 0.56\nFe3 Fe 0 0 0 0.5 0.56":     false,
		"Cu1 Cu 0 0 0 1 0.56\nSn1 Sn 0.5 0.5 0.5 0.2 1":    false,
	} {
		assert.Equal(t, want, parse(t, file(copper, symbol("F m -3 m"), sharedAtoms+text)).SolidSolution, text)
	}
	plain := "Cu1 Cu 0 0 0 1 0.56"
	assert.True(t, parse(t, file(copper, symbol("F m -3 m")+"\n_phasetally_solid_solution yes", sharedAtoms+plain)).SolidSolution)
	assert.False(t, parse(t, file(copper, symbol("F m -3 m")+"\n_phasetally_solid_solution no", sharedAtoms+plain)).SolidSolution)
}

func TestNamelessStructures(t *testing.T) {
	text := file(copper, symbol("F m -3 m")+"\n_chemical_name_mineral '?'\n_chemical_formula_sum 'Cu'", plainAtoms+"Cu1 0 0 0 0.56")
	for name, want := range map[string][2]string{"mine.cif": {"mine", "mine"}, "?.cif": {"Cu", "Cu"}} {
		list, err := structure.Read(strings.NewReader(text), name)
		require.NoError(t, err)
		assert.Equal(t, want, [2]string{list[0].ID, list[0].Name}, name)
	}
	list, err := structure.Read(strings.NewReader(strings.Replace(text, "'?'", "'"+strings.Repeat("x", 20000)+"'", 1)), "mine.cif")
	require.NoError(t, err)
	assert.LessOrEqual(t, len([]rune(list[0].Name)), 120)
}

// Symbol and number of two groups: International Tables give 225 to F m -3 m and 221 to P m -3 m.
func TestSymbolAgainstNumber(t *testing.T) {
	operators := "\nloop_\n_space_group_symop_operation_xyz\nx,y,z\n-x,-y,-z"
	for _, c := range []struct {
		symmetry string
		want     bool
	}{
		{symbol("F m -3 m") + "\n_space_group_IT_number 225", false},
		{symbol("F m -3 m") + "\n_space_group_IT_number 221", true},
		{symbol("F m -3 m") + "\n_space_group_IT_number ?", false},
		{symbol("P -1") + "\n_space_group_IT_number 225" + operators, true},
		{symbol("P -1") + "\n_space_group_IT_number 2" + operators, false},
	} {
		got := codes(parse(t, file(copper, c.symmetry, plainAtoms+"Cu1 0 0 0 0.56")).Cautions)
		if c.want {
			assert.Contains(t, got, "structure-symmetry", c.symmetry)
		} else {
			assert.NotContains(t, got, "structure-symmetry", c.symmetry)
		}
	}
}

// The operators of one group under the symbol of another of as many: R -3 m has no glide plane (International Tables 166 and 167).
func TestSymbolAgainstOperators(t *testing.T) {
	hexagonal := refdata.Cell{A: 4.76, B: 4.76, C: 12.99, Alpha: 90, Beta: 90, Gamma: 120}
	ops, err := structure.HallOperators("-R 3 2\"c")
	require.NoError(t, err)
	loop := "\nloop_\n_space_group_symop_operation_xyz"
	for _, op := range ops {
		loop += "\n" + op.String()
	}
	for hm, want := range map[string]bool{"R -3 c": false, "R -3 m": true, "R -3 c:H": false} {
		got := codes(parse(t, file(hexagonal, symbol(hm)+loop, plainAtoms+"Al1 0 0 0.35 0.3")).Cautions)
		assert.Equal(t, want, slices.Contains(got, "structure-symmetry"), hm)
	}
}

// Every group is like itself wherever its origin lies, and unlike another on the same lattice with other glide planes, axes or directions.
func TestGroupsAreAlikeAtEveryOrigin(t *testing.T) {
	for _, s := range structure.Settings() {
		ops, err := structure.HallOperators(s.Hall)
		require.NoError(t, err)
		shifted := slices.Clone(ops)
		for i, op := range shifted { // x′ = x + p: t′ = t + p − Rp
			p := [3]float64{0.125, 0.25, 0.375}
			moved := structure.Operator{R: op.R}.Apply(p)
			for k := range p {
				shifted[i].T[k] += p[k] - moved[k]
			}
		}
		assert.True(t, structure.Alike(ops, shifted), s.String())
	}
	for _, pair := range [][2]string{{"R 3 2\"", "R 3 -2\""}, {"P 4n 2n -1n", "P 4 2 -1"}, {"-P 2ybc", "-P 2yb"}, {"-F 4 2 3", "-F 4vw 2vw 3"}} {
		a, err := structure.HallOperators(pair[0])
		require.NoError(t, err)
		b, err := structure.HallOperators(pair[1])
		require.NoError(t, err)
		assert.False(t, structure.Alike(a, b), pair)
	}
}

// Displacement parameters that no crystal has: B under the name of U, U under that of B, and zero; and those of diamond and potassium stand.
func TestDoubtfulDisplacement(t *testing.T) {
	atoms := func(tag, value string) string {
		return "_atom_site_label\n_atom_site_fract_x\n_atom_site_fract_y\n_atom_site_fract_z\n" + tag + "\nCu1 0 0 0 " + value
	}
	const b, u = "_atom_site_B_iso_or_equiv", "_atom_site_U_iso_or_equiv"
	for _, c := range []struct {
		tag, value string
		want       bool
	}{{u, "0.56", true}, {b, "0.007", true}, {b, "0", true}, {u, "0.007", false}, {b, "0.56", false}, {b, "0.14", false}, {b, "11", false}, {b, "?", false}} {
		got := codes(parse(t, file(copper, symbol("F m -3 m"), atoms(c.tag, c.value))).Cautions)
		assert.Equal(t, c.want, slices.Contains(got, "structure-b-doubtful"), "%s %s", c.tag, c.value)
	}
	for _, r := range refdata.Starter() {
		if len(r.Atoms) == 0 {
			continue
		}
		s, err := structure.FromRecord(r)
		require.NoError(t, err)
		assert.NotContains(t, codes(s.Cautions), "structure-b-doubtful", r.ID)
	}
}

// Angles that all but enclose no volume make a density that nothing has.
func TestImpossibleDensityIsRefused(t *testing.T) {
	flat := refdata.Cell{A: 5, B: 5, C: 5, Alpha: 119.999, Beta: 119.999, Gamma: 119.999}
	_, err := structure.Read(strings.NewReader(file(flat, symbol("P 1"), plainAtoms+"Cu1 0 0 0 0.56\nCu2 0.5 0 0 0.56")), "flat.cif")
	require.ErrorIs(t, err, structure.ErrDensity)
	assert.ErrorContains(t, err, "osmium")
}
