package structure_test

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// calibrants are the structures of the lists of spacings: group and atoms tell which lines exist, the cell where they are.
var calibrants = []struct {
	name, hm, atoms string
	a, c            float64
	hexagonal       bool
	source          string
}{
	{"Si_SRM640d", "F d -3 m:2", "Si 0.125 0.125 0.125 0.5", 5.43123, 0, false, "certificate SRM 640d (read)"},
	{"Si_SRM640c", "F d -3 m:2", "Si 0.125 0.125 0.125 0.5", 5.4311946, 0, false, "list (read)"},
	{"LaB6_SRM660a", "P m -3 m", "La 0 0 0 0.3\nB 0.1993 0.5 0.5 0.3", 4.1569162, 0, false, "SRM 660a (read)"},
	{"LaB6_SRM660c", "P m -3 m", "La 0 0 0 0.3\nB 0.1993 0.5 0.5 0.3", 4.156826, 0, false, "certificate SRM 660c (read)"},
	{"CeO2", "F m -3 m", "Ce 0 0 0 0.3\nO 0.25 0.25 0.25 0.5", 5.411651, 0, false, "SRM 674b (read)"},
	{"ZnO", "P 63 m c", "Zn 0.33333 0.66667 0 0.6\nO 0.33333 0.66667 0.382 0.6", 3.249897, 5.20653, true, "SRM 674b (read)"},
	{"TiO2", "P 42/m n m", "Ti 0 0 0 0.45\nO 0.3053 0.3053 0 0.42", 4.593927, 2.958875, false, "SRM 674b (read)"},
	{"Cr2O3", "R -3 c", "Cr 0 0 0.3475 0.3\nO 0.3058 0 0.25 0.4", 4.958979, 13.59592, true, "SRM 674b (read)"},
	{"Al", "F m -3 m", "Al 0 0 0 0.8", 4.0495, 0, false, "list (read)"},
	{"NaCl", "F m -3 m", "Na 0 0 0 1.5\nCl 0.5 0.5 0.5 1.2", 5.6401, 0, false, "list (read)"},
}

func calibrant(t testing.TB, name string) *structure.Structure {
	for _, c := range calibrants {
		if c.name == name {
			cell := refdata.Cell{A: c.a, B: c.a, C: c.c, Alpha: 90, Beta: 90, Gamma: 90}
			if c.c == 0 {
				cell.C = c.a
			}
			if c.hexagonal {
				cell.Gamma = 120
			}
			require.NotEmpty(t, c.source)
			return parse(t, file(cell, symbol(c.hm), plainAtoms+c.atoms))
		}
	}
	require.Fail(t, name)
	return nil
}

// The spacings of NIST's standards as listed elsewhere: nine digits, from the certified cells, so that 1e-7 must be reached.
func TestNISTSpacings(t *testing.T) {
	listed := map[string]int{}
	for _, row := range table(t, shared(t, "reference", "b_srm_dspacing_lists.csv")) {
		listed[row["calibrant"]]++
	}
	for _, c := range calibrants {
		lines := phase(t, calibrant(t, c.name), "Cu").Lines
		found, worst := 0, 0.0
		for _, row := range table(t, shared(t, "reference", "b_srm_dspacing_lists.csv")) {
			if row["calibrant"] != c.name {
				continue
			}
			if off := nearestLine(lines, number(t, row["d_A"])); off < 1e-4 {
				found++
				worst = max(worst, off)
			}
		}
		t.Logf("%-13s %2d of %2d lines, largest relative deviation %.1g", c.name, found, listed[c.name], worst)
		assert.Less(t, worst, 1e-7, c.name)
		assert.GreaterOrEqual(t, found, listed[c.name]*3/4, "%s: the rest is beyond 150° or too weak", c.name)
	}
}

// nearestLine returns the relative distance in d of the nearest line.
func nearestLine(lines []refdata.Line, d float64) float64 {
	least := math.Inf(1)
	for _, l := range lines {
		least = min(least, math.Abs(l.D/d-1))
	}
	return least
}

// The same claim with a few rows inside the project.
func TestNISTSpacingsSmall(t *testing.T) {
	for _, c := range []struct {
		calibrant, hkl string
		d              float64 // Å; list of spacings from certified cells (read), or d = a/√(h² + k² + l²) (derived)
	}{
		{"ZnO", "100", 2.81449336}, {"ZnO", "002", 2.60326500}, {"ZnO", "101", 2.47589774}, {"TiO2", "110", 3.24839693}, {"TiO2", "101", 2.48755278},
		{"Cr2O3", "012", 3.63076001}, {"Cr2O3", "104", 2.66523182}, {"Cr2O3", "110", 2.47948950}, {"Si_SRM640d", "111", 5.43123 / math.Sqrt(3)},
		{"Si_SRM640d", "422", 5.43123 / math.Sqrt(24)}, {"LaB6_SRM660c", "110", 4.156826 / math.Sqrt(2)},
	} {
		h, _ := strconv.Atoi(c.hkl[:1])
		k, _ := strconv.Atoi(c.hkl[1:2])
		l, _ := strconv.Atoi(c.hkl[2:])
		got, ok := line(phase(t, calibrant(t, c.calibrant), "Cu"), h, k, l)
		require.True(t, ok, "%s %s", c.calibrant, c.hkl)
		assert.InEpsilon(t, c.d, got.D, 1e-8, "%s %s", c.calibrant, c.hkl)
	}
}

// Corundum against itself: kinematic theory with neutral atoms makes 116 the strongest line, so that its own RIR is 1.027 (oracle, read); with
// ionic form factors, and in a measured powder, it is 113 (Hubbard, Evans & Smith 1976, and Ida 2023, read).
func TestCorundum(t *testing.T) {
	s, err := structure.FromRecord(structure.Corundum())
	require.NoError(t, err)
	assert.InDelta(t, structure.Corundum().KnownDensity, s.Density(), 0.001)
	p := phase(t, s, "Cu")
	assert.InDelta(t, 1.027, p.RIR.Value, 5e-4)
	strongest := p.Lines[p.Strongest()].Families[0]
	assert.Equal(t, []int{1, 1, 6}, []int{strongest.H, strongest.K, strongest.L})
	got, ok := line(p, 1, 1, 3)
	require.True(t, ok)
	assert.InEpsilon(t, p.RIR.Value, 100/got.Intensity, 1e-9, "the unit is line 113")
	assert.Equal(t, refdata.RIR{Value: p.RIR.Value, RelU: 0.05, Origin: "computed", Basis: "area", Radiation: "Cu"}, p.RIR)
}

// SRM 674's measured I/Ic (Int. Tables C 5.2.11, read): kinematic values are higher by 5–9 % in general, as the measured corundum 113 is relatively
// stronger than theory says. The difference is stated here and must not be tuned away.
func TestMeasuredRIR(t *testing.T) {
	for _, c := range []struct {
		name        string
		measured, u float64
	}{{"ZnO", 5.17, 0.13}, {"TiO2", 3.39, 0.12}} {
		computed := phase(t, calibrant(t, c.name), "Cu").RIR.Value
		t.Logf("%s: computed %.2f, measured %.2f(%.0f): %+.0f %%", c.name, computed, c.measured, 100*c.u, 100*(computed/c.measured-1))
		assert.Greater(t, computed/c.measured, 1.0, c.name)
		assert.Less(t, computed/c.measured, 1.15, c.name)
	}
}

// Calculated I/Ic of a mineral database at Kα mean, 1.541838 Å (read). It lists 50.47 for zincite's line 100 relative to 101, which f′ = 0
// gives (50.2–51.1 for B 0–1 Å²) and f′ of zinc does not (53.1): that calculation leaves dispersion out. Without it both minerals come out 4–6 % high,
// which the unknown B and corundum of that calculation cover; with it zincite is 13 % low and calcite 3 % high.
func TestDatabaseRIR(t *testing.T) {
	r, err := xrd.ParseRadiation("1.541838")
	require.NoError(t, err)
	b := refdata.Beam{Radiation: r}
	corundum, err := structure.FromRecord(structure.Corundum())
	require.NoError(t, err)
	with, err := corundum.Phase(b)
	require.NoError(t, err)
	without, err := structure.WithoutDispersion(corundum).Phase(b)
	require.NoError(t, err)
	unit := without.RIR.Value / with.RIR.Value // corundum 113 too is to be without dispersion
	for _, c := range []struct {
		mineral, structureUsed, hm, atoms string
		cell                              refdata.Cell
		rir, density                      float64 // as listed (read)
	}{
		{"zincite", "Aminoff 1921: cell read, O at z = 3/8 from memory, B 0.3 Å² assumed", "P 63 m c", "Zn 0.333333 0.666667 0 0.3\nO 0.333333 0.666667 0.375 0.3",
			refdata.Cell{A: 3.22, B: 3.22, C: 5.2, Alpha: 90, Beta: 90, Gamma: 120}, 6.566, 5.789},
		{"calcite", "Markgraf & Reeder 1985: cell read, O at x = 0.257 from memory, B 0.72, 0.70, 1.20 Å² assumed", "R -3 c", "Ca 0 0 0 0.72\nC 0 0 0.25 0.70\nO 0.257 0 0.25 1.20",
			refdata.Cell{A: 4.988, B: 4.988, C: 17.061, Alpha: 90, Beta: 90, Gamma: 120}, 3.208, 2.712},
	} {
		s := parse(t, file(c.cell, symbol(c.hm), plainAtoms+c.atoms))
		assert.InDelta(t, c.density, s.Density(), 0.001, c.mineral)
		bare, err := structure.WithoutDispersion(s).Phase(b)
		require.NoError(t, err)
		full, err := s.Phase(b)
		require.NoError(t, err)
		t.Logf("%s (%s): listed %.3f, without dispersion %.3f, with %.3f", c.mineral, c.structureUsed, c.rir, bare.RIR.Value/unit, full.RIR.Value)
		assert.InEpsilon(t, c.rir, bare.RIR.Value/unit, 0.07, c.mineral)
		assert.InEpsilon(t, c.rir, full.RIR.Value, 0.14, c.mineral)
		if c.mineral == "zincite" {
			assert.InDelta(t, 50.47, bare.Lines[0].Intensity, 0.7)
			assert.Greater(t, full.Lines[0].Intensity, 53.0)
		}
	}
}

func ExampleStructure_Phase() {
	s, err := structure.FromRecord(structure.Corundum())
	if err != nil {
		fmt.Println(err)
		return
	}
	cu, _ := xrd.ParseRadiation("Cu")
	p, err := s.Phase(refdata.Beam{Radiation: cu, MaxTwoTheta: 40})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%s %s, %.3f g/cm³, μ %.1f /cm, I/Ic %.3f\n", p.Formula, p.SpaceGroup, p.Density, p.MuLinear(), p.RIR.Value)
	for _, l := range p.Lines {
		f := l.Families[0]
		fmt.Printf("%d %d %d  d %.4f  2θ %.3f  m %d  I %.1f\n", f.H, f.K, f.L, l.D, l.TwoTheta, f.Multiplicity, l.Intensity)
	}
	// Output:
	// Al2O3 R -3 c:H, 3.986 g/cm³, μ 125.8 /cm, I/Ic 1.027
	// 0 1 2  d 3.4801  2θ 25.576  m 6  I 61.4
	// 1 0 4  d 2.5510  2θ 35.150  m 6  I 97.3
	// 1 1 0  d 2.3796  2θ 37.776  m 6  I 45.8
}
