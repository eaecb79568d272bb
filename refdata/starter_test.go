package refdata

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestStarterIsComplete(t *testing.T) {
	records := Starter()
	require.NotEmpty(t, records)
	assert.True(t, slices.IsSortedFunc(records, func(a, b Record) int { return strings.Compare(a.ID, b.ID) }))
	for _, r := range records {
		assert.Regexp(t, `^[a-z0-9]+(-[a-z0-9]+)*$`, r.ID)
		assert.NotEmpty(t, r.Name, r.ID)
		assert.NotEmpty(t, r.Formula, r.ID)
		assert.NotEmpty(t, r.SpaceGroup, r.ID)
		assert.NotEmpty(t, r.Source, r.ID)
		assert.NotEmpty(t, r.Atoms, r.ID)
		assert.Contains(t, []string{"high", "medium", "low"}, r.Confidence, r.ID)
		for _, a := range r.Atoms {
			assert.True(t, a.Occupancy > 0 && a.Occupancy <= 1, "%s %s", r.ID, a.Label)
			assert.True(t, a.B > 0 && a.B < 6, "%s %s", r.ID, a.Label)
		}
	}
}

func TestStarterHoldsTheWatchList(t *testing.T) {
	index := map[string]Record{}
	for _, r := range Starter() {
		index[r.ID] = r
	}
	for _, id := range []string{"sic-3c", "sic-4h", "sic-6h", "diamond", "corundum", "ceria", "periclase", "quartz", "calcite",
		"graphite", "aluminium", "silver", "tungsten-carbide", "zirconia-tetragonal"} {
		assert.True(t, strings.HasSuffix(index[id].Preparation, "."), "%s: wants a sentence, has %q", id, index[id].Preparation)
	}
	for _, id := range []string{"copper", "nickel", "zincite"} {
		assert.Empty(t, index[id].Preparation, id)
	}
}

func TestStarterRefusesBrokenTables(t *testing.T) {
	const phases = "id,name,formula,space_group,a,b,c,alpha,beta,gamma,known_density,preparation,soluble,confidence,source\n" +
		"x,x,Cu,F m -3 m,3.6,3.6,3.6,90,90,90,,,,high,invented\n"
	const atoms, lines = "id,label,element,x,y,z,occupancy,B\nx,Cu,Cu,0,0,0,1,0.5\n", "id,d\nx,2.08,100\n"
	got, err := parseStarter(phases, atoms, lines)
	require.NoError(t, err)
	assert.Equal(t, []StrongLine{{2.08, 100}}, got[0].Strong)
	for reason, c := range map[string][3]string{
		"empty":           {"", atoms, lines},
		"twice":           {phases + strings.SplitAfter(phases, "\n")[1], atoms, lines},
		"cell":            {strings.Replace(phases, "3.6", "0", 1), atoms, lines},
		"number":          {strings.Replace(phases, "3.6", "?", 1), atoms, lines},
		"unknown atom":    {phases, strings.Replace(atoms, "\nx", "\ny", 1), lines},
		"atom number":     {phases, strings.Replace(atoms, "0.5", "half", 1), lines},
		"missing column":  {phases, strings.Replace(atoms, ",0.5", "", 1), lines},
		"unknown line":    {phases, atoms, strings.Replace(lines, "\nx", "\ny", 1)},
		"half a line":     {phases, atoms, strings.Replace(lines, ",100", "", 1)},
		"line no number":  {phases, atoms, strings.Replace(lines, "100", "all", 1)},
		"no atoms' table": {phases, "", lines},
	} {
		_, err := parseStarter(c[0], c[1], c[2])
		assert.ErrorIs(t, err, errStarter, reason)
	}
}

func BenchmarkStarter(b *testing.B) {
	for b.Loop() {
		if _, err := parseStarter(starterPhases, starterAtoms, starterLines); err != nil {
			b.Fatal(err)
		}
	}
}
