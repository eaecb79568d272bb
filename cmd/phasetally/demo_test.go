package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
)

// idOf gives the ids of the starter collection for the names of the simulator, of which testdata/truth.csv is a record.
var idOf = map[string]string{"CuSn_bronze_alpha": "bronze-alpha", "Cu6Sn5_eta": "cu6sn5-eta", "Cu3Sn_eps": "cu3sn-epsilon", "Cu2O": "cuprite"}

// truth returns the composition with which a demo scan was simulated, wt% by id.
func truth(t *testing.T, scan string) map[string]float64 {
	t.Helper()
	f, err := os.Open("../../testdata/truth.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Equal(t, []string{"scan", "phase", "weight_percent"}, rows[0])
	parts := map[string]float64{}
	for _, row := range rows[1:] {
		if row[0] == scan {
			require.Contains(t, idOf, row[1])
			parts[idOf[row[1]]], err = strconv.ParseFloat(row[2], 64)
			require.NoError(t, err)
		}
	}
	require.NotEmpty(t, parts, scan)
	return parts
}

// The main job on the demo scan: the phases that were simulated and no other, each within 2 wt% (the uncertainty that
// reference intensity ratios leave; the simulation used an independent program and its own structures).
func TestDemoScanGivesItsTruth(t *testing.T) {
	scan, want := demo(t), truth(t, "bushing-aged")
	t.Chdir(t.TempDir())
	code, stdout, stderr := within(t, t.Context(), "analyse", scan, "--elements", "Cu,Sn", "--format", "json")
	require.Equal(t, exitDone, code, stderr)
	var doc result.Document
	require.NoError(t, json.Unmarshal([]byte(stdout), &doc))
	found := map[string]float64{}
	for _, p := range doc.Phases {
		require.NotNil(t, p.WeightPercent, p.ID)
		found[p.ID] = *p.WeightPercent
		require.NotNil(t, p.FineLimitWeightPercent, "%s: the specimen is a section", p.ID)
		assert.InDelta(t, want[p.ID], *p.FineLimitWeightPercent, 2, p.ID) // the simulation knows no grains
		assert.True(t, *p.WeightPercentLo < want[p.ID] && want[p.ID] < *p.WeightPercentHi, "%s: the interval holds both limits", p.ID)
	}
	assert.Len(t, found, len(want), "found %v, truth %v", found, want)
	assert.Equal(t, result.AbsorptionLimits, doc.Absorption)
	checkTables(t, "bushing-aged-phases", doc)
}

// The leaded section, whose rays were traced by another program: as a fine powder it would be wrong; its span, the answer with
// a stated intercept, and that with a micrograph hold the truth (testdata/leaded-section.csv).
func TestDemoSectionHoldsItsTruth(t *testing.T) {
	want := map[string]float64{"bronze-alpha": 84.62, "lead": 12.06, "cuprite": 3.33}
	scan, err := filepath.Abs("../../testdata/leaded-section.xy")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	run := func(args ...string) result.Document {
		code, stdout, stderr := within(t, t.Context(), append([]string{"quantify", scan, "--phase", "bronze-alpha,lead,cuprite", "--format", "json"}, args...)...)
		require.Equal(t, exitDone, code, stderr)
		var doc result.Document
		require.NoError(t, json.Unmarshal([]byte(stdout), &doc))
		require.Len(t, doc.Phases, len(want))
		return doc
	}
	span, stated := run(), run("--intercept", "13±3", "--area", "lead=9±1", "--area", "cuprite=6.5±1")
	for i, doc := range []result.Document{span, stated} {
		for _, p := range doc.Phases {
			w := want[p.ID]
			assert.True(t, *p.WeightPercentLo < w && w < *p.WeightPercentHi, "%d: %s %v to %v, truth %v", i, p.ID, *p.WeightPercentLo, *p.WeightPercentHi, w)
			assert.False(t, *p.FineLimitLo < w && w < *p.FineLimitHi, "%s as a fine powder", p.ID)
		}
	}
	require.NotNil(t, stated.Micrograph)
	for id, w := range want {
		c := stated.Micrograph.Of(id)
		assert.True(t, *c.CombinedWeightLo < w && w < *c.CombinedWeightHi, id)
	}
	for _, p := range stated.Phases {
		if p.ID == "lead" {
			require.Len(t, p.Hazards, 1)
			assert.Equal(t, "lead", p.Hazards[0].Code)
		}
	}
}

// checkTables opens the tables of a result folder and compares them with the document.
func checkTables(t *testing.T, folder string, doc result.Document) {
	t.Helper()
	for name, rows := range map[string]int{"fractions.csv": len(doc.Phases) + len(doc.NotDetected), "peaks.csv": len(doc.Peaks), "fit.csv": doc.Scan.Points} {
		f, err := os.Open(filepath.Join(folder, name))
		require.NoError(t, err)
		table, err := csv.NewReader(f).ReadAll() // every row as wide as the first
		require.NoError(t, err, name)
		require.NoError(t, f.Close())
		assert.Len(t, table, rows+1, name)
		for _, row := range table[1:] {
			for _, cell := range row {
				v, err := strconv.ParseFloat(cell, 64)
				require.False(t, err == nil && (math.IsNaN(v) || math.IsInf(v, 0)), "%s: %s", name, cell)
			}
		}
	}
	raw, err := os.ReadFile(filepath.Join(folder, "fractions.csv"))
	require.NoError(t, err)
	for _, p := range doc.Phases {
		assert.Contains(t, string(raw), p.ID+","+strings.TrimSpace(p.Name)+",")
	}
}
