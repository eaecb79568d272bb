package structure_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// Every caution is in the list of the package documentation, says what to do, and has evidence; and every code of the list is used.
func TestCautions(t *testing.T) {
	doc, err := os.ReadFile("doc.go")
	require.NoError(t, err)
	used := map[string]bool{}
	sources, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, name := range sources {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		if name == "doc.go" || strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, part := range strings.Split(string(text), `"structure-`)[1:] {
			code, _, _ := strings.Cut(part, `"`)
			used["structure-"+code] = true
			assert.Contains(t, string(doc), "structure-"+code)
		}
	}
	assert.Len(t, used, strings.Count(string(doc), "structure-"))
}

func TestCautionsAreComplete(t *testing.T) {
	texts := []string{
		file(magnetite, symbol("F d -3 m"), magnetiteAtoms), file(magnetite, symbol("F d -3 m:1"), magnetiteAtoms), brucite("Mg O", ""),
		file(copper, symbol("F m -3 m"), plainAtoms+"Cu1 0 0 0 0.56\nCu2 0.5 0.5 0 ?\nCu3 ? ? ? ?\nO1 0.25 0.25 0.25 ?"),
		strings.Replace(good, "_cell_length_c 3.61491", "_cell_length_c 3.62", 1),
	}
	seen := map[string]bool{}
	for _, text := range texts {
		for _, c := range phase(t, parse(t, text), "Cu").Cautions {
			assert.NotEmpty(t, c.Text, c.Code)
			assert.NotEmpty(t, c.Remedy, c.Code)
			assert.NotEmpty(t, c.Evidence, c.Code)
			assert.Contains(t, []xrd.Severity{xrd.SeverityNote, xrd.SeverityCaution}, c.Severity, c.Code)
			seen[c.Code] = true
		}
	}
	for _, code := range []string{"structure-origin-guessed", "structure-contact", "structure-formula", "structure-duplicate-site", "structure-b-default", "structure-atoms-without-place", "structure-cell"} {
		assert.True(t, seen[code], code)
	}
}

// A cell that departs a little from its symmetry is averaged, so that equivalent reflections stay one line.
func TestCellIsAveraged(t *testing.T) {
	s := parse(t, strings.Replace(good, "_cell_length_c 3.61491", "_cell_length_c 3.62", 1))
	assert.InEpsilon(t, s.Cell.A, s.Cell.C, 1e-12)
	assert.InDelta(t, 3.6166, s.Cell.A, 1e-4)
	p := phase(t, s, "Cu")
	assert.Len(t, p.Lines, len(phase(t, parse(t, good), "Cu").Lines))
}

// A structure is shared between goroutines, and gives all of them the same.
func TestPhaseInParallel(t *testing.T) {
	s := parse(t, good)
	want := phase(t, s, "Cu")
	cu := beam(t, "Cu")
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			got, err := s.Phase(cu)
			assert.NoError(t, err)
			assert.Equal(t, want, got)
		})
	}
	group.Wait()
}

// A monochromator changes intensities by its polarisation only: LP ratios are those of the formula, and corundum has it too.
func TestMonochromator(t *testing.T) {
	s := parse(t, file(zincite, symbol("P 63 m c"), zinciteAtoms))
	b := beam(t, "Cu")
	plain, err := s.Phase(b)
	require.NoError(t, err)
	b.Monochromator, err = xrd.ParseMonochromator("graphite", b.Radiation)
	require.NoError(t, err)
	graphite, err := s.Phase(b)
	require.NoError(t, err)
	a := b.Monochromator.PolarizationRatio()
	factor := func(twoTheta float64) float64 {
		return xrd.LorentzPolarization(twoTheta, a) / xrd.LorentzPolarization(twoTheta, 1)
	}
	strongest := plain.Lines[plain.Strongest()]
	for i, l := range plain.Lines {
		want := l.Intensity * factor(l.TwoTheta) / factor(strongest.TwoTheta)
		assert.InEpsilon(t, want, graphite.Lines[i].Intensity, 1e-9)
	}
	const corundum113 = 43.352 // degrees, oracle (read)
	assert.InEpsilon(t, plain.RIR.Value*factor(strongest.TwoTheta)/factor(corundum113), graphite.RIR.Value, 1e-5)
}

// The RIR by height nears that by area when lines are so sharp that none overlap, and Kα2 is resolved in neither.
func TestHeightNearsArea(t *testing.T) {
	s := parse(t, file(zincite, symbol("P 63 m c"), zinciteAtoms))
	b := beam(t, "Cu")
	b.Radiation.Ratio = 0
	area, err := s.Phase(b)
	require.NoError(t, err)
	sharp, err := s.HeightRIR(b, 0.01)
	require.NoError(t, err)
	assert.InEpsilon(t, area.RIR.Value, sharp.Value, 1e-3)
	assert.Equal(t, "height", sharp.Basis)
}

// Cautions are printed as JSON, which knows no infinities: a structure without contacts, of hydrogen alone, on an open origin.
func TestCautionsAreJSON(t *testing.T) {
	s := parse(t, file(magnetite, symbol("F d -3 m")+"\n_chemical_formula_sum 'Fe'", plainAtoms+"H 0.1 0.2 0.3 0.5"))
	assert.Contains(t, codes(s.Cautions), "structure-origin-guessed")
	assert.Contains(t, codes(s.Cautions), "structure-formula")
	_, err := json.Marshal(s.Cautions)
	assert.NoError(t, err)
}

// Operators that come without a symbol are named when they are those of a setting.
func TestOperatorsAreNamed(t *testing.T) {
	list := "loop_\n_space_group_symop_operation_xyz\n"
	ops, err := structure.HallOperators("-F 4vw 2vw 3")
	require.NoError(t, err)
	for _, op := range ops {
		list += op.String() + "\n"
	}
	assert.Equal(t, "F d -3 m:2", parse(t, file(magnetite, list, magnetiteAtoms)).SpaceGroup)
	odd := parse(t, file(copper, "loop_\n_space_group_symop_operation_xyz\nx,y,z\n-x,-y,z+1/2\nx,y,z+1/4\n", plainAtoms+"Cu 0.1 0.2 0 0.5"))
	assert.Empty(t, odd.SpaceGroup)
}

// A dummy atom is no atom.
func TestDummyAtoms(t *testing.T) {
	text := strings.Replace(strings.Replace(good, "_atom_site_occupancy\n", "_atom_site_calc_flag\n", 1), "0 0 0 1 0.56", "0 0 0 d 0.56\nQ Q 0.5 0 0 dum 1", 1)
	assert.Len(t, parse(t, text).Sites, 1)
}
