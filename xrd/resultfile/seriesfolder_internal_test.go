package resultfile

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile/resulttest"
)

// aSeries keeps phases, one scan and the files of the whole on a disk, and stops at the first error.
func aSeries(d disk, dir string) error {
	f, err := openSeries(&SeriesFolder{dir: dir, names: []string{"a"}, disk: d})
	if err != nil {
		return err
	}
	defer f.Close()
	if _, err := f.KeepPhases("mark", []string{"corundum"}); err != nil {
		return err
	}
	s := resulttest.Series(1)
	r := resulttest.Mixture(1)
	c := &r.Curves // a short scan, for there are many writes
	r.Document.Scan.Points = 50
	c.TwoTheta, c.Observed, c.Sigma, c.Calculated, c.Background = c.TwoTheta[:50], c.Observed[:50], c.Sigma[:50], c.Calculated[:50], c.Background[:50]
	for i := range c.Phases {
		c.Phases[i] = c.Phases[i][:50]
	}
	if err := f.Keep(0, r, &s.Scans[0], map[string][]byte{"report.html": []byte("<p>")}); err != nil {
		return err
	}
	return f.Finish(s, map[string]FileWriter{"series.html": Bytes([]byte("<p>"))})
}

// tree is every file of a folder with its content.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(name string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		raw, err := os.ReadFile(name)
		out[strings.TrimPrefix(name, dir)] = string(raw)
		return err
	}))
	return out
}

// Whatever step of a series fails, and whether the program lives on or dies there: no file under its own name is cut
// short, and the next run ends with the same files as one that nothing befell, and nothing beside them.
func TestNoStepLeavesHalfASeries(t *testing.T) {
	whole := filepath.Join(t.TempDir(), "series")
	require.NoError(t, aSeries(osDisk{}, whole))
	want := tree(t, whole)
	for _, dead := range []bool{false, true} {
		reached := 0
		for at := 0; ; at++ {
			dir := filepath.Join(t.TempDir(), "series")
			step := 0
			err := aSeries(faultyDisk{at: &at, step: &step, dead: dead}, dir)
			if step <= at {
				require.NoError(t, err)
				break
			}
			reached++
			where := fmt.Sprintf("dead %t, step %d", dead, at)
			if _, err := os.Stat(dir); err == nil {
				for name, text := range tree(t, dir) {
					if !strings.Contains(name, partial) {
						assert.Equal(t, want[name], text, "%s: %s", where, name)
					}
				}
			}
			require.NoError(t, aSeries(osDisk{}, dir), where)
			assert.Equal(t, want, tree(t, dir), where)
			left, err := filepath.Glob(filepath.Join(filepath.Dir(dir), ".*"))
			require.NoError(t, err)
			assert.Empty(t, left, where)
		}
		assert.Greater(t, reached, 35, "every step of every write was hit")
	}
}

// An error names the folder and what to do, whichever write it was.
func TestSeriesErrorsNameTheFolder(t *testing.T) {
	for at := range 30 {
		dir := filepath.Join(t.TempDir(), "series")
		step := 0
		err := aSeries(faultyDisk{at: &at, step: &step}, dir)
		if err == nil {
			continue // a step whose failure does no harm: clearing away
		}
		require.ErrorIs(t, err, errInjected)
		var folder *FolderError
		if assert.ErrorAs(t, err, &folder, "step %d", at) {
			assert.Contains(t, folder.Fix, "--out")
		}
	}
}

// A lock is for one, is free when its holder is gone, and needs a file.
func TestLock(t *testing.T) {
	name := filepath.Join(t.TempDir(), "marker")
	_, _, err := lock(name, false)
	require.Error(t, err, "no file")
	require.NoError(t, os.WriteFile(name, nil, 0o600))
	first, busy, err := lock(name, false)
	require.NoError(t, err)
	if first == nil {
		t.Skip("NOT TESTED: locks, because this system or file system has none")
	}
	require.False(t, busy)
	second, busy, err := lock(name, false)
	require.NoError(t, err)
	assert.True(t, busy)
	assert.Nil(t, second)
	require.NoError(t, first.Close())
	third, busy, err := lock(name, false)
	require.NoError(t, err)
	assert.False(t, busy)
	require.NoError(t, third.Close())
}

// The file of kept phases says what it is.
func TestKeptPhasesAreSelfDescribing(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	f, err := OpenSeries(dir, nil, false)
	require.NoError(t, err)
	defer f.Close()
	_, err = f.KeepPhases("mark", []string{"a", "b"})
	require.NoError(t, err)
	raw, err := os.ReadFile(filepath.Join(dir, phasesFile))
	require.NoError(t, err)
	var got map[string]any
	require.NoError(t, json.Unmarshal(raw, &got))
	assert.Equal(t, map[string]any{"schema": phasesSchema, "fingerprint": "mark", "phases": []any{"a", "b"}}, got)
}

// Every name gives a folder of its own that is a plain name, whatever the scan is called.
func FuzzFolderNames(f *testing.F) {
	f.Add("a/one.xy", "b/one.xy", "one-2.xy")
	f.Add("../../etc/passwd", `C:\x\<script>.xy`, "")
	f.Add("...", "scan", strings.Repeat("long", 99))
	f.Fuzz(func(t *testing.T, a, b, c string) {
		seen := map[string]bool{}
		for _, name := range folderNames([]string{a, b, c, a}) {
			require.NoError(t, plainName(name))
			require.NotContains(t, name, "/")
			require.LessOrEqual(t, len(name), 110)
			require.True(t, filepath.IsLocal(name) && !strings.HasPrefix(name, "."), "%q", name)
			require.False(t, seen[strings.ToLower(name)], "%q", name)
			seen[strings.ToLower(name)] = true
		}
	})
}
