//go:build unix

package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hostileFiles are those that are made when they are wanted: what they are named, and how many bytes of zeros or what text they hold.
var hostileFiles = map[string]func(*os.File) error{
	"big-points.xy": func(f *os.File) error {
		return lines(f, "", 1<<20+1, func(i int) string { return fmt.Sprintf("%.6f 9\n", 5+1e-4*float64(i)) })
	},
	"big-line.xy": func(f *os.File) error { return lines(f, "", 70000, func(int) string { return "1" }) },
	"big-values.cif": func(f *os.File) error {
		return lines(f, "data_x\nloop_\n_a\n", 3<<20+1, func(int) string { return "1\n" })
	},
	"big-tags.cif": func(f *os.File) error {
		return lines(f, "data_x\n", 1<<16+1, func(i int) string { return fmt.Sprintf("_t%d 1\n", i) })
	},
	"big-bytes.cif": func(f *os.File) error { return f.Truncate(64<<20 + 1) },
	"big-bytes.csv": func(f *os.File) error { return f.Truncate(64<<20 + 1) },

	"noise-interpolated.xy": scanOf(interpolatedNoise),
	"noise-smoothed.xy":     scanOf(smoothedNoise),
	"lines-everywhere.xy":   scanOf(linesEverywhere),
}

func lines(f *os.File, head string, n int, line func(i int) string) error {
	var b bytes.Buffer
	b.WriteString(head)
	for i := range n {
		b.WriteString(line(i))
	}
	_, err := b.WriteTo(f)
	return err
}

// TestHostileInput runs the program on files that are damaged, malicious or of another kind, and on flags that cannot be meant:
// testdata/hostile holds the files, and expected.csv what must come of each. What is refused has exit status 2, prints nothing on the
// standard output and leaves every file as it was; no message holds control characters, and no page what a scan would have it run.
func TestHostileInput(t *testing.T) {
	dir, err := filepath.Abs("../../testdata/hostile")
	require.NoError(t, err)
	f, err := os.Open(filepath.Join(dir, "expected.csv"))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(rows), 200)
	requireNamed(t, dir, rows)
	program := programFile(t)
	t.Run("all", func(t *testing.T) {
		for i, row := range rows[1:] {
			t.Run(strconv.Itoa(i+2), func(t *testing.T) {
				t.Parallel()
				hostile(t, program, dir, row[0], row[1], row[2])
			})
		}
	})
}

// requireNamed wants every file of the folder to be the subject of a row.
func requireNamed(t *testing.T, dir string, rows [][]string) {
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		if e.Name() != "expected.csv" && e.Name() != "README.md" {
			assert.True(t, slices.ContainsFunc(rows, func(r []string) bool { return strings.Contains(r[0], e.Name()) }), "no row for %s", e.Name())
		}
	}
}

func hostile(t *testing.T, program, files, command, status, says string) {
	dir := t.TempDir()
	named, err := os.ReadDir(files)
	require.NoError(t, err)
	for _, e := range named { // the files of one row only: two hundred copies of two hundred files take a minute
		if from, to := filepath.Join(files, e.Name()), filepath.Join(dir, e.Name()); !strings.Contains(command, e.Name()) {
			continue
		} else if e.IsDir() {
			require.NoError(t, os.CopyFS(to, os.DirFS(from)))
		} else {
			raw, err := os.ReadFile(from)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(to, raw, 0o644))
		}
	}
	for name, write := range hostileFiles {
		if strings.Contains(command, name) {
			f, err := os.Create(filepath.Join(dir, name))
			require.NoError(t, err)
			require.NoError(t, errors.Join(write(f), f.Close()))
		}
	}
	before := tree(t, dir)
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
	defer cancel()
	c := exec.CommandContext(ctx, program, strings.Fields(strings.ReplaceAll(command, "@LONG", strings.Repeat("x", 20000)))...)
	var out, errs bytes.Buffer
	c.Dir, c.Stdout, c.Stderr = dir, &out, &errs
	err = c.Run()
	require.NoError(t, ctx.Err(), "%s: takes longer than ten minutes", command)
	used := c.ProcessState.UserTime() + c.ProcessState.SystemTime() // the machine may be busy with something else
	assert.Less(t, used, 2*time.Minute, "%s: takes too long", command)
	require.Equal(t, status, strconv.Itoa(c.ProcessState.ExitCode()), "%s: %v\n%s", command, err, errs.String())
	for _, text := range []string{out.String(), errs.String()} {
		assert.False(t, strings.ContainsFunc(text, func(r rune) bool { return r != '\n' && (unicode.IsControl(r) || r == '\u202e') }), "%s: %q", command, text)
	}
	if status != strconv.Itoa(exitBadInput) {
		assert.Contains(t, out.String(), says, command)
		harmless(t, dir, command)
		return
	}
	assert.Less(t, errs.Len(), 1500, "%s: a message is to be read", command)
	assert.True(t, strings.HasPrefix(errs.String(), "phasetally: "+says), "%s: %s", command, errs.String())
	assert.Empty(t, out.String(), command)
	assert.Equal(t, before, tree(t, dir), command)
}

// harmless looks for what a name may have brought into the files of a result.
func harmless(t *testing.T, dir, command string) {
	require.NoError(t, filepath.WalkDir(filepath.Join(dir, "r"), func(name string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) || d.IsDir() {
			return nil
		}
		raw, err := os.ReadFile(name)
		require.NoError(t, err)
		text := string(raw)
		switch filepath.Ext(name) {
		case ".html", ".svg":
			assert.NotContains(t, text, "<script>alert", "%s: %s", command, name)
			assert.NotContains(t, text, "\x1b", "%s: %s", command, name)
		case ".csv":
			for field := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == '\n' }) {
				assert.False(t, strings.HasPrefix(strings.Trim(field, `"`), "="), "%s: %s: a spreadsheet would compute %q", command, name, field)
			}
		}
		return nil
	}))
}

// tree lists the files of a folder with their sizes.
func tree(t *testing.T, dir string) (all []string) {
	require.NoError(t, filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		info, err := d.Info()
		require.NoError(t, err)
		all = append(all, fmt.Sprint(name, info.Size(), info.ModTime()))
		return nil
	}))
	return all
}
