package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// seriesScans copies scans of the demo into a folder of their own, with a table of conditions, and works there.
func seriesScans(t testing.TB, names ...string) {
	t.Helper()
	from, err := filepath.Abs("../../testdata")
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	for _, name := range append(names, "ageing.csv") {
		b, err := os.ReadFile(filepath.Join(from, name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(name, b, 0o600))
	}
}

func program(ctx context.Context, args ...string) (status int, stdout, stderr string) {
	var out, err bytes.Buffer
	status = run(ctx, args, strings.NewReader(""), &out, &err)
	return status, out.String(), err.String()
}

// quick names the phases and narrows the range, so that a series takes seconds.
func quick(args ...string) []string {
	return append([]string{"series", "--phase", "bronze-alpha,tin-beta,cu6sn5-eta,cu3sn-epsilon", "--range", "28:51", "--no-figures"}, args...)
}

func modified(t *testing.T, name string) time.Time {
	t.Helper()
	info, err := os.Stat(name)
	require.NoError(t, err)
	return info.ModTime()
}

// A series with a bad scan in its middle is done, told, and gone on with once the scan is mended: what was finished is
// not touched, neither by the second run nor by a stray temporary folder of a run that was killed.
func TestSeriesIsResumed(t *testing.T) {
	seriesScans(t, "ageing-000h.xy", "ageing-672h.xy", "ageing-024h.xy")
	good, err := os.ReadFile("ageing-024h.xy")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile("ageing-024h.xy", []byte("this is no scan\n"), 0o600))
	args := quick("ageing-000h.xy", "ageing-024h.xy", "ageing-672h.xy", "--conditions", "ageing.csv", "--out", "s")
	status, out, errs := program(t.Context(), args...)
	assert.Equal(t, exitNeedsHuman, status, errs)
	assert.Contains(t, out, "Over 2 scans, hours 0 to 672: ")
	assert.Contains(t, out, "[scan-failed]")
	assert.Contains(t, errs, "rows for files that are not in the series: ageing-072h.xy, ageing-168h.xy, ageing-336h.xy")
	first, last := "s/scans/ageing-000h/analysis.json", "s/scans/ageing-672h/analysis.json"
	before := modified(t, first)
	assert.NoFileExists(t, "s/scans/ageing-000h/report.html", "--no-figures")
	assert.NoDirExists(t, "s/scans/ageing-024h")

	require.NoError(t, os.WriteFile("ageing-024h.xy", good, 0o600))
	require.NoError(t, os.Mkdir("s/scans/.ageing-024h-partial-1", 0o700)) // what a killed run leaves
	status, out, errs = program(t.Context(), args...)
	assert.Equal(t, exitDone, status, errs)
	assert.Contains(t, out, "Over 3 scans")
	assert.Equal(t, before, modified(t, first), "finished scans are not redone")
	for _, name := range []string{"series.csv", "series.parquet", "series.json", "series.html", "trend.svg", "stack.pdf", "difference.png"} {
		assert.FileExists(t, filepath.Join("s", name))
	}
	table, err := os.ReadFile("s/series.csv")
	require.NoError(t, err)

	was := modified(t, last)
	require.NoError(t, os.WriteFile("ageing-672h.xy", append(good, "\n"...), 0o600)) // another scan under the name
	status, _, errs = program(t.Context(), args...)
	assert.Equal(t, exitDone, status, errs)
	assert.Equal(t, before, modified(t, first))
	assert.NotEqual(t, was, modified(t, last), "its content has changed")
	again, err := os.ReadFile("s/series.csv")
	require.NoError(t, err)
	assert.NotEqual(t, string(table), string(again))

	status, _, errs = program(t.Context(), append(args, "--force")...)
	assert.Equal(t, exitDone, status, errs)
	assert.NotEqual(t, before, modified(t, first), "--force")
	forced, err := os.ReadFile("s/series.csv")
	require.NoError(t, err)
	assert.Equal(t, string(again), string(forced), "the same input gives the same table")
}

func TestSeriesInterrupted(t *testing.T) {
	seriesScans(t, "ageing-000h.xy")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	status, _, errs := program(ctx, quick("ageing-000h.xy", "--out", "s")...)
	assert.Equal(t, exitInterrupted, status)
	assert.Contains(t, errs, "finished work is kept")
	assert.NoFileExists(t, "s/series.csv")
}

func TestSeriesUsage(t *testing.T) {
	seriesScans(t, "ageing-000h.xy")
	require.NoError(t, os.WriteFile("short.csv", []byte("file,hours\nageing-000h.xy\n"), 0o600))
	require.NoError(t, os.WriteFile("other.csv", []byte("file,hours\nb.xy,1\n"), 0o600))
	require.NoError(t, os.Mkdir("mine", 0o700))
	for _, c := range []struct {
		why, stderr string
		args        []string
	}{
		{"no scans", "scans missing", []string{"series"}},
		{"a short row", "short.csv:2: a row is not as long", quick("ageing-000h.xy", "--conditions", "short.csv")},
		{"rows of another series", "no row belongs to any of the scans", quick("ageing-000h.xy", "--conditions", "other.csv")},
		{"no table", "none.csv", quick("ageing-000h.xy", "--conditions", "none.csv")},
		{"someone's folder", "not that of a series", quick("ageing-000h.xy", "--out", "mine", "--force")},
		{"a wrong flag is told before anything is written", "--mask", quick("ageing-000h.xy", "--mask", "5", "--out", "new")},
		{"unknown phase", "unobtainium", []string{"series", "ageing-000h.xy", "--phase", "unobtainium", "--out", "new"}},
		{"unknown format", "--format", quick("ageing-000h.xy", "--format", "xml", "--out", "new")},
		{"no scan can be read", "none.xy", []string{"series", "none.xy", "--out", "new"}},
	} {
		status, _, errs := program(t.Context(), c.args...)
		assert.Equal(t, exitBadInput, status, "%s: %s", c.why, errs)
		assert.Contains(t, errs, c.stderr, c.why)
		assert.NoDirExists(t, "new", c.why)
	}
}

func TestFigureCommand(t *testing.T) {
	seriesScans(t, "ageing-000h.xy", "ageing-672h.xy")
	status, _, errs := program(t.Context(), quick("ageing-000h.xy", "ageing-672h.xy", "--out", "s")...)
	require.Equal(t, exitDone, status, errs)
	const scan = "s/scans/ageing-672h"
	for _, args := range [][]string{
		{scan, "--out", "p.svg"}, {scan, "--theme", "slide", "--dark", "--range", "40:45", "--scale", "linear", "--hkl", "--out", "q.pdf"},
		{scan, "--kind", "fractions", "--theme", "one-column", "--out", "f.png"}, {scan, "--kind", "budget", "--out", "b.svg"},
		{scan, "--kind", "evidence", "--phase", "CU3SN-epsilon", "--out", "e.svg"}, {"s", "--kind", "trend", "--out", "t.svg"},
		{scan, "--inset", "auto", "--inset", "30:34", "--out", "i.svg"},
		{"s", "--kind", "stack", "--range", "30:45", "--out", "k.svg"}, {"s", "--kind", "difference", "--out", "d.svg"},
	} {
		status, out, errs := program(t.Context(), append([]string{"figure"}, args...)...)
		assert.Equal(t, exitDone, status, "%v: %s", args, errs)
		assert.Empty(t, out)
		assert.FileExists(t, args[len(args)-1])
	}
	status, table, errs := program(t.Context(), "figure", "--print-words", "--language", "de")
	require.Equal(t, exitDone, status, errs)
	require.NoError(t, os.WriteFile("w.toml", []byte(strings.Replace(table, "Rest (σ)", "übrig (σ)", 1)), 0o600))
	for name, more := range map[string][]string{"de.svg": {"--language", "de"}, "w.svg": {"--words", "w.toml"}, "de2.svg": {"--language", "de"}} {
		status, _, errs = program(t.Context(), append([]string{"figure", scan, "--out", name}, more...)...)
		require.Equal(t, exitDone, status, errs)
	}
	for name, want := range map[string]string{"p.svg": ">residual (σ)<", "de.svg": ">Rest (σ)<", "w.svg": ">übrig (σ)<"} {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		assert.Contains(t, string(b), want)
	}
	b, err := os.ReadFile("p.svg")
	require.NoError(t, err)
	again := append([]string{"figure", scan}, "--out", "p2.svg")
	program(t.Context(), again...)
	b2, err := os.ReadFile("p2.svg")
	require.NoError(t, err)
	assert.Equal(t, b, b2, "identical bytes for identical input")
	for _, c := range []struct {
		stderr string
		args   []string
	}{
		{"0 folders given", nil},
		{"analysis.json", []string{"."}},
		{"series.json", []string{scan, "--kind", "trend"}},
		{`--kind "pie"`, []string{scan, "--kind", "pie"}},
		{`--scale "log"`, []string{scan, "--scale", "log"}},
		{"--theme", []string{scan, "--theme", "poster"}},
		{"--range", []string{scan, "--range", "45"}},
		{"--inset", []string{scan, "--inset", "45"}},
		{"--language: no words in that language", []string{scan, "--language", "tlh"}},
		{"--words: none.toml", []string{scan, "--words", "none.toml"}},
		{"ageing-000h.xy:9: not a table of words", []string{scan, "--words", "ageing-000h.xy"}},
		{"--inset: ranges that cannot be enlarged", []string{scan, "--inset", "60:70"}},
		{"the scan goes from 28° to 51°", []string{scan, "--range", "60:70"}},
		{"name the phase", []string{scan, "--kind", "evidence"}},
		{"it has bronze-alpha", []string{scan, "--kind", "evidence", "--phase", "gold"}},
		{"end the name in", []string{scan, "--out", "p.gif"}},
	} {
		status, _, errs := program(t.Context(), append([]string{"figure"}, c.args...)...)
		assert.Equal(t, exitBadInput, status, "%v: %s", c.args, errs)
		assert.Contains(t, errs, c.stderr)
	}
}
