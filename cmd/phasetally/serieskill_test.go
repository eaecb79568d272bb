//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"phasetally/xrd/xrdtest"
)

// programFile is the program as a file that can be started and killed: the test binary under its name.
func programFile(t testing.TB) string {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "phasetally")
	require.NoError(t, os.Symlink(self, name))
	return name
}

var killed = []string{"ageing-000h.xy", "ageing-024h.xy", "ageing-072h.xy", "ageing-168h.xy", "ageing-336h.xy", "ageing-672h.xy"}

// start starts a series over a short range; phases are searched, so that every step can be hit.
func start(t *testing.T, program string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	c := exec.Command(program, append([]string{"series", "--elements", "Cu,Sn", "--range", "28:51", "--conditions", "ageing.csv", "--out", "s", "--quiet"}, killed...)...)
	var errs bytes.Buffer
	c.Stderr = &errs
	require.NoError(t, c.Start())
	return c, &errs
}

// requireWhole looks at every file that has its final name: each is all there.
func requireWhole(t *testing.T, dir string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(name string, e fs.DirEntry, err error) error {
		switch base := filepath.Base(name); {
		case errors.Is(err, fs.ErrNotExist):
			return nil // no folder yet
		case err != nil:
			return err
		case e.IsDir() && strings.HasPrefix(base, "."):
			return fs.SkipDir // unfinished, under a name that says so
		case e.IsDir():
			return nil
		case base == ".phasetally-result":
			wholeFolder(t, name)
		default:
			wholeFile(t, name)
		}
		return nil
	}))
	for _, scan := range glob(t, filepath.Join(dir, "scans", "[^.]*")) {
		require.FileExists(t, filepath.Join(scan, ".phasetally-result"))
	}
}

func glob(t *testing.T, pattern string) []string {
	names, err := filepath.Glob(pattern)
	require.NoError(t, err)
	return names
}

func wholeFolder(t *testing.T, marker string) {
	raw, err := os.ReadFile(marker)
	require.NoError(t, err)
	var m struct{ Files []string }
	require.NoError(t, json.Unmarshal(raw, &m), marker)
	require.Contains(t, m.Files, "series-entry.json")
	for _, name := range m.Files {
		require.FileExists(t, filepath.Join(filepath.Dir(marker), name))
	}
}

func wholeFile(t *testing.T, name string) {
	raw, err := os.ReadFile(name)
	require.NoError(t, err)
	require.NotEmpty(t, raw, name)
	switch filepath.Ext(name) {
	case ".json":
		require.True(t, json.Valid(raw), name)
	default:
		end := map[string]string{".html": "</html>\n", ".svg": "</svg>\n", ".pdf": "%%EOF\n", ".png": "IEND\xaeB`\x82", ".parquet": "PAR1", ".csv": "\n"}
		require.True(t, bytes.HasSuffix(raw, []byte(end[filepath.Ext(name)])), name)
	}
}

// clocks are what differs between two runs of the same work: when it was done, how long it took, and checksums of files
// that say so.
var clocks = regexp.MustCompile(`"[^"]*": "[0-9]+-[0-9a-f]{8}"|"(started|elapsed_s)": [^,\n]*|<dt>(Started|Elapsed)</dt><dd><bdi>[^<]*|_pd_proc_info_datetime\s.*|_audit_creation_date\s.*`)

// content is every file of a folder by name, clocks left out.
func content(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(name string, e fs.DirEntry, err error) error {
		require.NoError(t, err)
		if e.IsDir() {
			out[name] = "folder"
			return nil
		}
		raw, err := os.ReadFile(name)
		out[name] = clocks.ReplaceAllString(string(raw), "")
		return err
	}))
	return out
}

func requireSame(t *testing.T, want, got map[string]string) {
	t.Helper()
	for name, text := range want {
		assert.True(t, text == got[name], "%s differs from that of a run that nobody disturbed", name)
	}
	for name := range got {
		assert.Contains(t, want, name, "left over")
	}
}

// A series is killed at random moments, again and again. Whatever the moment, no file is half there; the run that is
// let through ends with the same bytes as one that nobody disturbed.
func TestSeriesSurvivesKilling(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT TESTED: killing a series at random moments, because of -short")
	}
	seriesScans(t, killed...)
	program := programFile(t)
	began := time.Now()
	c, errs := start(t, program)
	require.NoError(t, c.Wait(), errs.String())
	whole := time.Since(began)
	want := content(t, "s")
	require.NoError(t, os.Rename("s", "undisturbed"))
	random := rand.New(rand.NewPCG(7, 1))
	for range 6 {
		c, errs := start(t, program)
		time.Sleep(time.Duration(random.Int64N(int64(whole))))
		_ = c.Process.Kill()
		if c.Wait() == nil {
			require.NoError(t, os.RemoveAll("s")) // it was faster: begin again
		} else {
			require.Empty(t, errs.String(), "killed before it could say anything")
		}
		requireWhole(t, "s")
	}
	c, errs = start(t, program)
	require.NoError(t, c.Wait(), errs.String())
	requireSame(t, want, content(t, "s"))
	assert.Empty(t, glob(t, ".s-*"), "nothing of killed runs stays beside the folder")
}

// An interrupt ends a series with what is done in tables and pages; the same command does the rest, and only the rest.
func TestSeriesIsInterrupted(t *testing.T) {
	xrdtest.Long(t, "TestEveryCommandHearsOneInterrupt")
	seriesScans(t, killed...)
	program := programFile(t)
	c, errs := start(t, program)
	first := filepath.Join("s", "scans", "[^.]*", "analysis.json")
	require.Eventually(t, func() bool { return len(glob(t, first)) > 0 }, time.Minute, time.Millisecond)
	require.NoError(t, c.Process.Signal(os.Interrupt))
	var exit *exec.ExitError
	require.ErrorAs(t, c.Wait(), &exit, errs.String())
	require.Equal(t, exitInterrupted, exit.ExitCode(), errs.String())
	requireWhole(t, "s")
	raw, err := os.ReadFile("s/series.json")
	require.NoError(t, err)
	assert.Contains(t, string(raw), `"code": "series-stopped"`)
	for _, name := range []string{"series.csv", "series.parquet", "series.html"} {
		assert.FileExists(t, filepath.Join("s", name))
	}
	table, err := os.ReadFile("s/series.csv")
	require.NoError(t, err)
	done := glob(t, first)
	assert.Less(t, len(done), len(killed), "a run that was over cannot be interrupted")
	assert.Equal(t, len(killed)-len(done), strings.Count(string(table), "not analysed yet"))
	before := modified(t, done[0])

	c, errs = start(t, program)
	require.NoError(t, c.Wait(), errs.String())
	assert.Equal(t, before, modified(t, done[0]))
	got := content(t, "s")
	require.NoError(t, os.RemoveAll("s"))
	c, errs = start(t, program)
	require.NoError(t, c.Wait(), errs.String())
	requireSame(t, content(t, "s"), got)
}

// Two runs in one folder would sweep away each other's work.
func TestSeriesFolderIsForOneRun(t *testing.T) {
	seriesScans(t, killed...)
	program := programFile(t)
	c, _ := start(t, program)
	require.Eventually(t, func() bool { return len(glob(t, "s/series-phases.json")) > 0 }, time.Minute, time.Millisecond)
	require.NoError(t, c.Process.Signal(syscall.SIGSTOP))
	d, errs := start(t, program)
	var exit *exec.ExitError
	require.ErrorAs(t, d.Wait(), &exit)
	assert.Equal(t, exitBadInput, exit.ExitCode())
	assert.Contains(t, errs.String(), "another run is writing to this folder")
	require.NoError(t, c.Process.Signal(syscall.SIGCONT))
	require.NoError(t, c.Wait())
}
