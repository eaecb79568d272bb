package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const hostileSample = `<script>alert("x")</script>` + "\u202egnirts\u202c"

// rewritten puts a changed copy of a scan of the demo into the present folder.
func rewritten(t *testing.T, name string, change func(string) string) {
	t.Helper()
	raw, err := os.ReadFile("ageing-168h.xy")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, []byte(change(string(raw))), 0o600))
}

// withKey replaces a key of the scan's header.
func withKey(key, value string) func(string) string {
	return func(scan string) string {
		lines := slices.DeleteFunc(strings.Split(scan, "\n"), func(l string) bool { return strings.HasPrefix(l, "# "+key+":") })
		return "# " + key + ": " + value + "\n" + strings.Join(lines, "\n")
	}
}

// Everything at once that a night's folder can hold: an unreadable scan in the middle, another radiation, another
// range, a sample's name that is a script and runs backwards, a missing row of conditions. The rest is done, each
// trouble is told where it belongs, and no name gets out of its place in any file.
func TestSeriesOfAwkwardScans(t *testing.T) {
	seriesScans(t, "ageing-168h.xy", "ageing-672h.xy")
	rewritten(t, "hostile.xy", withKey("sample", hostileSample))
	rewritten(t, "cobalt.xy", withKey("radiation", "Co"))
	rewritten(t, "short.xy", func(s string) string { return s[:strings.Index(s, "\n46.00")+1] })
	require.NoError(t, os.WriteFile("bad.xy", []byte("this is no scan\n"), 0o600))
	require.NoError(t, os.WriteFile("c.csv", []byte("file,hours,note\nageing-168h.xy,168,<b>\nhostile.xy,200,=1+1\nbad.xy,210,\ncobalt.xy,220,\nageing-672h.xy,672,\n"), 0o600))
	args := []string{"series", "ageing-168h.xy", "hostile.xy", "bad.xy", "cobalt.xy", "short.xy", "ageing-672h.xy",
		"--phase", "bronze-alpha,tin-beta,cu6sn5-eta,cu3sn-epsilon", "--range", "28:51", "--conditions", "c.csv", "--out", "s"}
	status, out, errs := program(t.Context(), args...)
	assert.Equal(t, exitNeedsHuman, status, errs)
	for _, want := range []string{"Over 4 scans, hours 168 to 672", "[scan-failed]", "[radiation-differs]", "[range-differs]", "[conditions-missing]", "no hours for short.xy"} {
		assert.Contains(t, out, want)
	}
	assert.NotContains(t, out, "\u202e")
	raw, err := os.ReadFile("s/series.json")
	require.NoError(t, err)
	var doc struct {
		Scans []struct {
			File, Error string
			Cautions    []string
		}
	}
	require.NoError(t, json.Unmarshal(raw, &doc))
	codes := map[string][]string{}
	for _, e := range doc.Scans {
		codes[e.File] = e.Cautions
		assert.Equal(t, e.File == "bad.xy", e.Error != "", e.File)
	}
	assert.Contains(t, codes["cobalt.xy"], "radiation-differs")
	assert.Contains(t, codes["short.xy"], "range-differs")
	requireHarmless(t, "s")
	f, err := os.Open("s/series.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	assert.Len(t, rows, 1+5*4+1, "a row a scan and phase, one for the scan without an answer")
	assert.True(t, slices.ContainsFunc(rows, func(r []string) bool { return slices.Contains(r, "'=1+1") }), "no cell is a formula")
	assert.True(t, slices.ContainsFunc(rows, func(r []string) bool { return r[2] == hostileSample || strings.Contains(r[2], "script") }), "the name itself is kept")
}

// requireHarmless looks into every page and drawing for a name that got out of its place.
func requireHarmless(t *testing.T, dir string) {
	t.Helper()
	pages, hostile := 0, 0
	for _, pattern := range []string{"*.html", "*.svg", "scans/*/*.html", "scans/*/*.svg"} {
		for _, name := range glob(t, filepath.Join(dir, pattern)) {
			raw, err := os.ReadFile(name)
			require.NoError(t, err)
			assert.NotContains(t, string(raw), "<script>alert", name)
			assert.NotContains(t, string(raw), "<b>", name)
			title, _, _ := strings.Cut(string(raw), "</title>")
			assert.NotContains(t, title, "\u202e", "%s: a title cannot be isolated from what follows", name)
			pages++
			hostile += strings.Count(string(raw), "&lt;script&gt;alert")
		}
	}
	assert.Greater(t, pages, 15)
	assert.Positive(t, hostile, "the name is shown, escaped")
}

// Scans that show nothing: without names the answer needs a human; with names every phase has a limit, and the pages
// say so without a figure of nothing.
func TestSeriesOfNothing(t *testing.T) {
	seriesScans(t)
	random := rand.New(rand.NewPCG(4, 2))
	for i := range 2 {
		var b strings.Builder
		b.WriteString("# radiation: Cu\n")
		for k := range 1500 {
			fmt.Fprintf(&b, "%.2f %.0f\n", 28+0.02*float64(k), 100+10*random.NormFloat64())
		}
		require.NoError(t, os.WriteFile(fmt.Sprintf("flat-%d.xy", i), []byte(b.String()), 0o600))
	}
	status, _, errs := program(t.Context(), "series", "flat-0.xy", "flat-1.xy", "--elements", "Cu", "--out", "none")
	assert.Equal(t, exitNeedsHuman, status, errs)
	assert.Contains(t, errs, "--phase")
	assert.NoDirExists(t, "none")
	status, out, errs := program(t.Context(), "series", "flat-0.xy", "flat-1.xy", "--phase", "copper,cuprite", "--out", "named")
	assert.Equal(t, exitNeedsHuman, status, errs, "such scans raise a stop")
	assert.Contains(t, out, "no phase of the series is seen")
	assert.NoFileExists(t, "named/trend.svg")
	assert.FileExists(t, "named/stack.svg")
	table, err := os.ReadFile("named/series.csv")
	require.NoError(t, err)
	assert.Equal(t, 4, strings.Count(string(table), "not detected"))
}
