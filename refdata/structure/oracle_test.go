package structure_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/structure"
)

// oraclePhase is what an independent computation, a direct sum over every atom and reflection, says of a phase.
type oraclePhase struct {
	Name, Formula, Spacegroup string
	Cell                      refdata.Cell
	Atoms                     []struct {
		Label, El       string
		X, Y, Z, B, Occ float64
	}
	Density float64
	Mu, RIR map[string]float64 // by anode; μ in 1/cm
	Height  float64            // RIR by height at FWHM 0.1°, Cu
	Lines   []oracleLine
}

type oracleLine struct {
	D, TTh, IRel float64
	HKL          []struct {
		HKL  [3]int
		Mult int
		F2   float64
	}
}

func (o oraclePhase) record() refdata.Record {
	r := refdata.Record{ID: o.Name, Formula: o.Formula, SpaceGroup: o.Spacegroup, Cell: o.Cell}
	for _, a := range o.Atoms {
		r.Atoms = append(r.Atoms, refdata.Atom{Label: a.Label, Element: a.El, X: a.X, Y: a.Y, Z: a.Z, Occupancy: a.Occ, B: a.B})
	}
	return r
}

// deviations are the largest ones by quantity, and where they are.
type deviations map[string]struct {
	value float64
	where string
}

func (d deviations) add(quantity, where string, value float64) {
	if value = math.Abs(value); !(value <= d[quantity].value) {
		d[quantity] = struct {
			value float64
			where string
		}{value, where}
	}
}

// allowed is what a right program reaches with the same tables. I and the RIR are the oracle's own words; d and 2θ are better than these
// words, the digits of its lists; |F|, electrons, by the four decimals of the dispersion table times the atoms in a cell.
var allowed = []struct {
	quantity string
	limit    float64
}{
	{"d", 1e-5}, {"2θ", 1e-3}, {"multiplicity", 0}, {"|F|", 0.01}, {"density", 1e-4}, {"I", 0.01}, {"μ Cu", 3e-4}, {"μ Co", 3e-4}, {"μ Mo", 3e-4},
	{"RIR Cu", 1e-4}, {"RIR Co", 1e-4}, {"RIR Mo", 1e-4}, {"height Cu", 1e-3},
}

// TestOracle checks all 98 phases with the oracle's dispersion table.
func TestOracle(t *testing.T) {
	most := deviations{}
	for name, o := range fullOracle(t) {
		list := readFile(t, shared(t, "oracle", "cif", name+".cif"))
		require.Len(t, list, 1, name)
		compare(t, most, o, structure.WithCromerLiberman(list[0]))
	}
	judge(t, most)
}

// TestOracleSmall makes the same claim without the fetched files, from records.
func TestOracleSmall(t *testing.T) {
	most := deviations{}
	for _, o := range smallOracle(t) {
		s, err := structure.FromRecord(o.record())
		require.NoError(t, err, o.Name)
		compare(t, most, o, structure.WithCromerLiberman(s))
	}
	judge(t, most)
}

func judge(t *testing.T, most deviations) {
	for _, a := range allowed {
		t.Logf("%-13s largest deviation %-9.3g allowed %-6.2g %s", a.quantity, most[a.quantity].value, a.limit, most[a.quantity].where)
		assert.LessOrEqual(t, most[a.quantity].value, a.limit, "%s at %s", a.quantity, most[a.quantity].where)
	}
}

// TestOracleWithOwnTables checks what the other dispersion table above Z = 70 does: the oracle allows 2.3 of 100 and 3.5 % of the RIR. One line
// is left out, 002 of Bi2212 at 5.75°: it is 2.5 off, by the whole electron of f′ that the two tables differ for bismuth.
func TestOracleWithOwnTables(t *testing.T) {
	most := deviations{}
	for name, o := range fullOracle(t) {
		if name == "Bi2212" {
			require.Equal(t, [3]int{0, 0, 2}, o.Lines[0].HKL[0].HKL)
			o.Lines = o.Lines[1:]
		}
		compare(t, most, o, readFile(t, shared(t, "oracle", "cif", name+".cif"))[0])
	}
	for quantity, limit := range map[string]float64{"I": 2.3, "RIR Cu": 0.035, "RIR Co": 0.035, "RIR Mo": 0.035} {
		t.Logf("%-13s largest deviation %-9.3g allowed %-6.2g %s", quantity, most[quantity].value, limit, most[quantity].where)
		assert.LessOrEqual(t, most[quantity].value, limit, "%s at %s", quantity, most[quantity].where)
	}
}

func compare(t *testing.T, most deviations, o oraclePhase, s *structure.Structure) {
	for _, anode := range []string{"Cu", "Co", "Mo"} {
		p, err := s.Phase(beam(t, anode))
		require.NoError(t, err, o.Name)
		most.add("μ "+anode, o.Name, p.MuLinear()/o.Mu[anode]-1)
		most.add("RIR "+anode, o.Name, p.RIR.Value/o.RIR[anode]-1)
		if anode != "Cu" {
			continue
		}
		most.add("density", o.Name, p.Density/o.Density-1)
		height, err := s.HeightRIR(p.Beam, 0.1)
		require.NoError(t, err, o.Name)
		most.add("height Cu", o.Name, height.Value/o.Height-1)
		for _, want := range o.Lines {
			compareLine(most, o.Name, p.Lines, want)
		}
	}
}

func compareLine(most deviations, name string, lines []refdata.Line, want oracleLine) {
	where := fmt.Sprintf("%s %v", name, want.HKL[0].HKL)
	var got refdata.Line
	for _, l := range lines {
		if math.Abs(l.TwoTheta-want.TTh) < math.Abs(got.TwoTheta-want.TTh) {
			got = l
		}
	}
	if want.IRel < 0.011 {
		return // at the weakest line that is kept
	}
	most.add("I", where, got.Intensity-want.IRel)
	most.add("d", where, got.D/want.D-1)
	most.add("2θ", where, got.TwoTheta-want.TTh)
	if len(got.Families) != len(want.HKL) {
		most.add("multiplicity", where, 1000)
		return
	}
	strength := func(m int, f2 float64) float64 { return float64(m) * f2 }
	slices.SortStableFunc(want.HKL, func(a, b struct {
		HKL  [3]int
		Mult int
		F2   float64
	}) int {
		return -int(math.Copysign(1, strength(a.Mult, a.F2)-strength(b.Mult, b.F2)))
	})
	for i, f := range got.Families {
		most.add("multiplicity", where, float64(f.Multiplicity-want.HKL[i].Mult))
		most.add("|F|", where, math.Sqrt(f.F2)-math.Sqrt(want.HKL[i].F2))
	}
}

func smallOracle(t testing.TB) []oraclePhase {
	raw, err := os.ReadFile("testdata/oracle_small.json")
	require.NoError(t, err)
	var file struct{ Phases []oraclePhase }
	require.NoError(t, json.Unmarshal(raw, &file))
	require.Len(t, file.Phases, 15)
	return file.Phases
}

func fullOracle(t testing.TB) map[string]oraclePhase {
	dir := shared(t, "oracle")
	raw, err := os.ReadFile(filepath.Join(dir, "expected_lines.json"))
	require.NoError(t, err)
	var all map[string]oraclePhase
	require.NoError(t, json.Unmarshal(raw, &all))
	require.Len(t, all, 98)
	for _, row := range table(t, filepath.Join(dir, "expected.csv")) {
		o := all[row["phase"]]
		o.Name, o.Height = row["phase"], number(t, row["IIc_height_fwhm0p1"])
		o.Mu, o.RIR = map[string]float64{}, map[string]float64{}
		for _, anode := range []string{"Cu", "Co", "Mo"} {
			o.Mu[anode], o.RIR[anode] = number(t, row["mu_"+anode+"Ka1_cm"]), number(t, row["IIc_area_"+anode+"Ka1"])
		}
		all[row["phase"]] = o
	}
	return all
}
