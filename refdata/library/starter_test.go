package library_test

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/refdata/listfile"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

var update = flag.Bool("update", false, "write ../starter_lines.csv anew from the structures")

func copper(t testing.TB) refdata.Beam {
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return refdata.Beam{Radiation: r}
}

// checks reads ../starter_checks.csv: what is known of the phases independently of their structures.
func checks(t testing.TB) map[string]map[string]string {
	f, err := os.Open("../starter_checks.csv")
	require.NoError(t, err)
	defer func() { _ = f.Close() }()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	table := map[string]map[string]string{}
	for _, row := range rows[1:] {
		table[row[0]] = map[string]string{}
		for i, column := range rows[0] {
			table[row[0]][column] = row[i]
		}
	}
	return table
}

// tolerance returns what two workers' values differ by at most: 1.5 % in density, because handbooks give those of real
// specimens, 0.3 % in spacing. The table may widen it where it says why.
func tolerance(t *testing.T, check map[string]string, column string, percent float64) float64 {
	if text := check[column]; text != "" {
		require.NotEmpty(t, check["remark"])
		wide, err := strconv.ParseFloat(text, 64)
		require.NoError(t, err)
		require.LessOrEqual(t, wide, 2.0, "wider is no check")
		percent = wide
	}
	return percent / 100
}

// Every structure is checked against a density and spacings that were remembered apart from it.
func TestStarterAgainstKnownDensitiesAndSpacings(t *testing.T) {
	lib, known := library.Starter(), checks(t)
	require.GreaterOrEqual(t, lib.Len(), 124)
	spacings := 0
	for i, r := range refdata.Starter() {
		check, ok := known[r.ID]
		require.True(t, ok, "%s has no check", r.ID)
		require.NotEmpty(t, check["source"], r.ID)
		require.NotEmpty(t, check["status"], r.ID)
		phase, err := lib.Phase(i, copper(t))
		require.NoError(t, err, r.ID)
		density, err := strconv.ParseFloat(check["density"], 64)
		require.NoError(t, err, r.ID)
		assert.InEpsilon(t, density, phase.Density, tolerance(t, check, "density_percent", 1.5), r.ID)
		near := tolerance(t, check, "spacing_percent", 0.3)
		for n := 1; n <= 6; n++ {
			text := check[fmt.Sprintf("d%d", n)]
			if text == "" {
				continue
			}
			d, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err, r.ID)
			spacings++
			assert.True(t, slices.ContainsFunc(phase.Lines, func(l refdata.Line) bool {
				return l.Intensity > 2 && math.Abs(l.D/d-1) < near
			}), "%s has no line at %g Å", r.ID, d)
		}
	}
	assert.Greater(t, spacings, 500)
}

// The line that handbooks call the strongest must be among the strong ones. Texture of the old specimens and later
// atomic positions move its rank, so half the strongest is asked.
func TestStarterStrongestLines(t *testing.T) {
	lib, known := library.Starter(), checks(t)
	for i, r := range refdata.Starter() {
		if known[r.ID]["I1"] != "100" {
			continue
		}
		d, err := strconv.ParseFloat(known[r.ID]["d1"], 64)
		require.NoError(t, err)
		phase, err := lib.Phase(i, copper(t))
		require.NoError(t, err, r.ID)
		best := 0.0
		for _, l := range phase.Lines {
			if math.Abs(l.D/d-1) < tolerance(t, known[r.ID], "spacing_percent", 0.3) {
				best = max(best, l.Intensity)
			}
		}
		assert.Greater(t, best, 50.0, "%s at %g Å", r.ID, d)
	}
}

func TestStarterStructuresAreClean(t *testing.T) {
	for _, r := range refdata.Starter() {
		s, err := structure.FromRecord(r)
		require.NoError(t, err, r.ID)
		assert.Empty(t, s.Cautions, r.ID)
		f, err := refdata.ParseFormula(r.Formula)
		require.NoError(t, err, r.ID)
		for i, share := range f.Composition() {
			own := s.Composition()
			j := slices.IndexFunc(own, func(o refdata.ElementShare) bool { return o.Symbol == share.Symbol })
			require.GreaterOrEqual(t, j, 0, "%s: %s", r.ID, share.Symbol)
			assert.InDelta(t, share.MassFraction, own[j].MassFraction, 0.02, "%s: %s, element %d", r.ID, share.Symbol, i)
		}
		assert.Equal(t, listfile.Slug(r.ID), r.ID)
	}
}

// The embedded strong lines must be those of the structures; -update writes them anew.
func TestStarterLinesAreFresh(t *testing.T) {
	var b strings.Builder
	b.WriteString("id,d,intensity of the strongest lines for Cu Kα (strongest first)\n")
	records := slices.Clone(refdata.Starter())
	for i := range records {
		records[i].Strong = nil // so that they are computed
	}
	lib := library.FromRecords("computed", "", records)
	for i := range lib.Len() {
		e := lib.Entry(i)
		require.NotEmpty(t, e.Strong, e.ID)
		b.WriteString(e.ID)
		for _, s := range e.Strong {
			fmt.Fprintf(&b, ",%.5f,%.2f", s.D, s.Intensity)
		}
		b.WriteString("\n")
	}
	const file = "../starter_lines.csv"
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(b.String()), 0o644))
	}
	got, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, b.String(), string(got), "stale: go generate ./refdata/library")
}

func TestStarterWatchListHasLines(t *testing.T) {
	lib := library.Starter()
	n := 0
	for i := range lib.Len() {
		e := lib.Entry(i)
		assert.LessOrEqual(t, len(e.Strong), 12, e.ID)
		assert.NotZero(t, e.Elements.Len(), e.ID)
		if e.Preparation != "" {
			n++
			assert.NotEmpty(t, e.Strong, e.ID)
		}
	}
	assert.GreaterOrEqual(t, n, 16)
	problems, err := lib.Check(t.Context(), nil)
	require.NoError(t, err)
	assert.Empty(t, problems)
}

func BenchmarkStarter(b *testing.B) {
	for b.Loop() {
		library.Starter()
	}
}
