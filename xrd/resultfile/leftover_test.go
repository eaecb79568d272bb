package resultfile

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile/resulttest"
)

func putFile(t *testing.T, name, text string) {
	t.Helper()
	require.NoError(t, os.MkdirAll(filepath.Dir(name), 0o755))
	require.NoError(t, os.WriteFile(name, []byte(text), 0o644))
}

// What killed runs have left goes; whatever else is hidden under such a name stays.
func TestSweepTakesOnlyWhatIsOurs(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	require.NoError(t, aSeries(osDisk{}, dir))
	theirs := []string{".mine-partial-1/chapter.txt", "scans/.a-partial-backup/a.xy", ".notes-partial-x"}
	for _, name := range theirs {
		putFile(t, filepath.Join(dir, name), "precious")
	}
	putFile(t, filepath.Join(dir, ".b-partial-2/.phasetally-result/deep.txt"), "precious") // a folder is no mark of ours
	putFile(t, filepath.Join(dir, ".c-partial-3", Marker), "")
	putFile(t, filepath.Join(dir, ".c-partial-3/own/thesis.txt"), "precious")
	ours := []string{".series-partial-7/" + partialMarker, "scans/.a-partial-8/" + Marker}
	for _, name := range ours {
		putFile(t, filepath.Join(dir, name), "")
		putFile(t, filepath.Join(dir, filepath.Dir(name), "analysis.json"), "{")
	}
	require.NoError(t, os.Mkdir(filepath.Join(dir, "scans/.a-partial-9"), 0o755))
	f, err := OpenSeries(dir, []string{"a.xy"}, false)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	for _, name := range append(theirs, ".b-partial-2/.phasetally-result/deep.txt", ".c-partial-3/own/thesis.txt") {
		assert.FileExists(t, filepath.Join(dir, name))
	}
	for _, name := range append(ours, "scans/.a-partial-9/x") {
		assert.NoDirExists(t, filepath.Join(dir, filepath.Dir(name)))
	}
}

// The folder under which a series is made first may be somebody else's.
func TestSeriesIsNotMadeOverOtherFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "night")
	putFile(t, filepath.Join(filepath.Dir(dir), ".night-partial-series/chapter.txt"), "precious")
	require.ErrorIs(t, aSeries(osDisk{}, dir), ErrForeign)
	assert.FileExists(t, filepath.Join(filepath.Dir(dir), ".night-partial-series/chapter.txt"))
	require.NoError(t, os.Remove(filepath.Join(filepath.Dir(dir), ".night-partial-series/chapter.txt")))
	putFile(t, filepath.Join(filepath.Dir(dir), ".night-partial-series", SeriesMarker), "")
	require.NoError(t, aSeries(osDisk{}, dir))
}

// Killed runs of single analyses leave hidden folders, too; those of an hour ago go.
func TestWriteSweepsWhatIsOld(t *testing.T) {
	parent := t.TempDir()
	for _, name := range []string{".a[1]-partial-1", ".a[1]-partial-2", ".a[1]-partial-3", ".b-partial-4"} {
		putFile(t, filepath.Join(parent, name, Marker), "")
	}
	putFile(t, filepath.Join(parent, ".a[1]-partial-3/mine/x"), "precious")
	old := time.Now().Add(-2 * abandoned)
	for _, name := range []string{".a[1]-partial-1", ".a[1]-partial-3", ".b-partial-4"} {
		require.NoError(t, os.Chtimes(filepath.Join(parent, name), old, old))
	}
	require.NoError(t, Write(filepath.Join(parent, "a[1]"), resulttest.Mixture(1), nil, Options{}))
	assert.NoDirExists(t, filepath.Join(parent, ".a[1]-partial-1"))
	for _, name := range []string{".a[1]-partial-2", ".a[1]-partial-3", ".b-partial-4"} {
		assert.DirExists(t, filepath.Join(parent, name))
	}
}

// Whatever happens to a file of a finished scan, the next run does that scan again instead of failing for ever.
func TestDamagedScanIsDoneAgain(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	require.NoError(t, aSeries(osDisk{}, dir))
	fingerprint := resulttest.Series(1).Scans[0].Fingerprint
	earlier := func() bool {
		f, err := OpenSeries(dir, []string{"a.xy"}, false)
		require.NoError(t, err)
		_, ok := f.Earlier(0, fingerprint)
		require.NoError(t, f.Close())
		return ok
	}
	if fingerprint == "" {
		t.Fatal("the series of the test has no fingerprint")
	}
	require.True(t, earlier(), "before any damage")
	scan := filepath.Join(dir, "scans/a")
	for _, name := range []string{"analysis.json", "fit.csv", "report.html", "analysis.cif", entryFile, Marker} {
		for what, damage := range map[string]func(raw []byte) []byte{
			"cut short": func(raw []byte) []byte { return raw[:len(raw)/2] },
			"flipped":   func(raw []byte) []byte { raw[len(raw)/3] ^= 4; return raw },
			"lost":      nil,
		} {
			path := filepath.Join(scan, name)
			raw, err := os.ReadFile(path)
			require.NoError(t, err)
			require.NoError(t, os.Remove(path))
			if damage != nil {
				putFile(t, path, string(damage(raw)))
			}
			if again := what != "flipped" || name == "analysis.json" || name == "fit.csv" || name == entryFile; again {
				assert.False(t, earlier(), "%s %s", name, what)
			}
			require.NoError(t, aSeries(osDisk{}, dir), "%s %s", name, what)
			require.True(t, earlier(), "%s %s", name, what)
		}
	}
	require.NoError(t, os.Remove(filepath.Join(scan, Marker)))
	putFile(t, filepath.Join(scan, "notes.txt"), "precious")
	require.ErrorIs(t, aSeries(osDisk{}, dir), ErrNotOurs)
	assert.FileExists(t, filepath.Join(scan, "notes.txt"))
}

func TestFreeFile(t *testing.T) {
	dir := t.TempDir()
	svg, _ := FigureMark("a.SVG")
	_, ok := FigureMark("a.txt")
	require.False(t, ok)
	for name, text := range map[string]string{"ours.svg": "<svg>" + string(svg), "theirs.svg": "<svg></svg>", "scan.xy": "20 100", "empty": ""} {
		putFile(t, filepath.Join(dir, name), text)
	}
	require.NoError(t, FreeFile(filepath.Join(dir, "new.svg"), svg, false))
	for _, name := range []string{"ours.svg", "theirs.svg", "scan.xy", "empty"} {
		require.ErrorContains(t, FreeFile(filepath.Join(dir, name), svg, false), "--force")
	}
	for _, name := range []string{"theirs.svg", "scan.xy"} {
		require.ErrorContains(t, FreeFile(filepath.Join(dir, name), svg, true), "not even with --force")
	}
	require.NoError(t, FreeFile(filepath.Join(dir, "ours.svg"), svg, true))
	require.NoError(t, FreeFile(filepath.Join(dir, "empty"), svg, true))
	require.ErrorContains(t, FreeFile(filepath.Join(dir, "ours.svg"), InstrumentMark, true), "not even with --force", "of another kind")
	require.Error(t, FreeFile(dir, svg, true))
	require.NoError(t, os.Symlink(filepath.Join(dir, "ours.svg"), filepath.Join(dir, "link.svg")))
	require.Error(t, FreeFile(filepath.Join(dir, "link.svg"), svg, true))
}
