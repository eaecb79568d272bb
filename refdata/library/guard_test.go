package library_test

import (
	"context"
	"database/sql"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
)

// database makes an SQLite file by statements.
func database(t *testing.T, path string, statements ...string) {
	db, err := sql.Open("sqlite", path)
	require.NoError(t, err)
	for _, text := range statements {
		_, err := db.Exec(text)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
}

func bytesOf(t *testing.T, path string) string {
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(raw)
}

// A database of another program has tables of the same names; nothing in it may change, under the name of the library
// and under that of the unfinished one.
func TestBuildLeavesOtherDatabasesAlone(t *testing.T) {
	theirs := []string{`CREATE TABLE file(id INTEGER PRIMARY KEY, path TEXT)`, `INSERT INTO file VALUES(1, 'thesis')`,
		`CREATE TABLE problem(file TEXT)`, `INSERT INTO problem VALUES('mine')`, `CREATE TABLE meta(key TEXT PRIMARY KEY, value TEXT)`,
		`INSERT INTO meta VALUES('schema', 'phasetally.library/3')`}
	for name, more := range map[string]string{
		"another program's":      `PRAGMA application_id = 1234`,
		"no application at all":  `PRAGMA user_version = 4`,
		"a later layout of ours": `PRAGMA application_id = 1346925689`,
	} {
		t.Run(name, func(t *testing.T) {
			dst := filepath.Join(t.TempDir(), "a.lib")
			want := library.ErrNotLibrary
			if name == "a later layout of ours" {
				want = library.ErrLayout
				database(t, dst, append(theirs, more, `PRAGMA user_version = 99`)...)
			} else {
				database(t, dst, append(theirs, more)...)
			}
			before := bytesOf(t, dst)
			_, err := library.Build(t.Context(), dst, []string{mixed(t)}, nil)
			require.ErrorIs(t, err, want)
			assert.ErrorContains(t, err, "choose another name")
			assert.Equal(t, before, bytesOf(t, dst))
			assert.NoFileExists(t, dst+".part")
			_, err = library.Open(dst)
			require.ErrorIs(t, err, want)

			other := filepath.Join(t.TempDir(), "b.lib")
			require.NoError(t, os.Rename(dst, other+".part"))
			_, err = library.Build(t.Context(), other, []string{mixed(t)}, nil)
			require.ErrorIs(t, err, library.ErrForeignPart)
			assert.Equal(t, before, bytesOf(t, other+".part"))
			assert.NoFileExists(t, other)
		})
	}
}

func TestBuildLeavesPartsOfTheUserAlone(t *testing.T) {
	for _, name := range []string{".part", ".part-journal"} {
		dst := filepath.Join(t.TempDir(), "a.lib")
		put(t, dst+name, "chapter three")
		_, err := library.Build(t.Context(), dst, []string{mixed(t)}, nil)
		require.ErrorIs(t, err, library.ErrForeignPart)
		assert.ErrorContains(t, err, dst+name)
		assert.Equal(t, "chapter three", bytesOf(t, dst+name))
	}
	dst := filepath.Join(t.TempDir(), "a.lib")
	require.NoError(t, os.Mkdir(dst+".part", 0o755))
	_, err := library.Build(t.Context(), dst, []string{mixed(t)}, nil)
	require.ErrorIs(t, err, library.ErrForeignPart)
}

// A folder that is not there is told, not the unfinished file that would lie in it.
func TestBuildInNoFolder(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "none")
	_, err := library.Build(t.Context(), filepath.Join(folder, "a.lib"), []string{mixed(t)}, nil)
	require.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorContains(t, err, folder)
	assert.NotContains(t, err.Error(), ".part")
}

// unfinished leaves a build that was stopped after some files.
func unfinished(t *testing.T, dir, dst string) {
	ctx, cancel := context.WithCancel(t.Context())
	_, err := library.Build(ctx, dst, []string{dir}, func(p library.Progress) {
		if p.Done == 8 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
}

// However an unfinished file is damaged, the next build gives the library that it would have given without: the same
// phases with the same data. (An empty one is what a build leaves that was killed at once.)
func TestBuildMendsDamagedParts(t *testing.T) {
	dir := many(t, 12)
	clean := filepath.Join(t.TempDir(), "clean.lib")
	_, err := library.Build(t.Context(), clean, []string{dir}, nil)
	require.NoError(t, err)
	want := phasesOf(t, clean)
	origin := filepath.Join(t.TempDir(), "a.lib")
	unfinished(t, dir, origin)
	whole := []byte(bytesOf(t, origin+".part"))
	rng := rand.New(rand.NewPCG(7, 5))
	for n := range 24 {
		bad := append([]byte(nil), whole...)
		switch n % 4 {
		case 0:
			bad = bad[:rng.IntN(2)*(100+rng.IntN(len(bad)-100))] // none, or most
		default:
			for range 1 + rng.IntN(3) {
				bad[100+rng.IntN(len(bad)-100)] ^= 1 << rng.IntN(8)
			}
		}
		dst := filepath.Join(t.TempDir(), "b.lib")
		require.NoError(t, os.WriteFile(dst+".part", bad, 0o644))
		report, err := library.Build(t.Context(), dst, []string{dir}, nil)
		require.NoError(t, err)
		require.Equal(t, 12, report.Phases)
		require.Equal(t, want, phasesOf(t, dst), "damage %d", n)
		require.NoFileExists(t, dst+".part")
	}
}

func phasesOf(t *testing.T, path string) map[string]any {
	lib, err := library.Open(path)
	require.NoError(t, err)
	defer func() { assert.NoError(t, lib.Close()) }()
	all := map[string]any{}
	for i := range lib.Len() {
		p, err := lib.Phase(i, copper(t))
		require.NoError(t, err)
		all[p.ID] = p
	}
	return all
}

// The same files give the same bytes, whichever core is faster; and a build that finds nothing to do changes none.
func TestBuildGivesTheSameBytes(t *testing.T) {
	dir, a, b := many(t, 700), filepath.Join(t.TempDir(), "a.lib"), filepath.Join(t.TempDir(), "b.lib")
	for _, dst := range []string{a, b} {
		_, err := library.Build(t.Context(), dst, []string{dir}, nil)
		require.NoError(t, err)
	}
	require.Equal(t, bytesOf(t, a), bytesOf(t, b))
	report, err := library.Build(t.Context(), a, []string{dir}, nil)
	require.NoError(t, err)
	assert.Equal(t, 700, report.Unchanged)
	assert.Equal(t, 700, report.Phases)
	require.Equal(t, bytesOf(t, a), bytesOf(t, b))
	assert.NoFileExists(t, a+".part")
}

// A flipped bit anywhere never changes a phase or an entry without a word, and check finds it even where no phase is
// concerned. Bits that mean nothing (free room in pages, counters in the head) may change unseen.
// A build that was stopped and goes on, and one that adds files to a library and takes some out, give the bytes of one run; the files of
// which they made them are gone, and one of the user's under that name stays.
func TestGrownLibraryHasTheSameBytes(t *testing.T) {
	dir, mix, folder := many(t, 60), mixed(t), t.TempDir()
	whole := filepath.Join(folder, "whole.lib")
	_, err := library.Build(t.Context(), whole, []string{dir, mix}, nil)
	require.NoError(t, err)
	want := bytesOf(t, whole)

	stopped := filepath.Join(folder, "stopped.lib")
	for _, after := range []int{5, 40} {
		ctx, cancel := context.WithCancel(t.Context())
		_, err = library.Build(ctx, stopped, []string{dir, mix}, func(p library.Progress) {
			if p.Done == after {
				cancel()
			}
		})
		require.ErrorIs(t, err, context.Canceled)
		cancel()
	}
	_, err = library.Build(t.Context(), stopped, []string{dir, mix}, nil)
	require.NoError(t, err)
	assert.True(t, want == bytesOf(t, stopped), "stopped twice")

	grown := filepath.Join(folder, "grown.lib")
	_, err = library.Build(t.Context(), grown, []string{mix, filepath.Join(dir, "p0007.cif"), many(t, 3)}, nil)
	require.NoError(t, err)
	put(t, grown+".part.new", "my notes")
	_, err = library.Build(t.Context(), grown, []string{dir, mix}, nil)
	require.ErrorIs(t, err, library.ErrForeignPart)
	assert.Equal(t, "my notes", bytesOf(t, grown+".part.new"))
	require.NoError(t, os.Remove(grown+".part.new"))
	for range 2 {
		_, err = library.Build(t.Context(), grown, []string{dir, mix}, nil)
		require.NoError(t, err)
		assert.True(t, want == bytesOf(t, grown), "grown")
	}
	left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestFlippedBitsAreNoticed(t *testing.T) {
	dst := filepath.Join(t.TempDir(), "a.lib")
	_, err := library.Build(t.Context(), dst, []string{many(t, 6), mixed(t)}, nil)
	require.NoError(t, err)
	whole := []byte(bytesOf(t, dst))
	lib, err := library.Open(dst)
	require.NoError(t, err)
	problems, err := lib.Check(t.Context(), nil)
	require.NoError(t, err)
	known := len(problems)
	want := read(t, lib)
	rng := rand.New(rand.NewPCG(11, 5))
	told, checked := 0, 0
	for range 100 {
		bad := append([]byte(nil), whole...)
		at := 100 + rng.IntN(len(bad)-100)
		for bad[at] == 0 { // most of a small file is room to spare
			at = 100 + rng.IntN(len(bad)-100)
		}
		bad[at] ^= 1 << rng.IntN(8)
		path := filepath.Join(t.TempDir(), "bad.lib")
		require.NoError(t, os.WriteFile(path, bad, 0o644))
		lib, err := library.Open(path)
		if err != nil {
			told++
			checked++
			continue
		}
		got, met := read(t, lib), false
		for id, p := range got {
			if err, failed := p.(error); failed {
				require.ErrorIs(t, err, library.ErrDamaged)
				met = true
				continue
			}
			require.Equal(t, want[id], p)
		}
		if met {
			told++
		}
		if problems, err := lib.Check(t.Context(), nil); err != nil || len(problems) > known {
			checked++
		}
		require.NoError(t, lib.Close())
	}
	t.Logf("of 100 flipped bits %d met whoever read all phases, %d a check", told, checked)
	assert.Greater(t, told, 20)
	assert.GreaterOrEqual(t, checked, told)
	require.NoError(t, lib.Close())
}

// read gives every phase with its entry, or its error, by id.
func read(t testing.TB, lib *library.Library) map[string]any {
	all := map[string]any{}
	for i := range lib.Len() {
		e := lib.Entry(i)
		p, err := lib.Phase(i, copper(t))
		if err != nil {
			all[e.ID] = err
			continue
		}
		all[e.ID] = []any{e, p}
	}
	return all
}

func TestDevicesAreNotRead(t *testing.T) {
	_, problems, err := library.FromFiles(t.Context(), os.DevNull)
	require.ErrorIs(t, err, library.ErrNoPhases)
	require.Len(t, problems, 1)
	require.ErrorIs(t, problems[0].Err, library.ErrNotPlain)
	_, err = library.Open(os.DevNull)
	require.True(t, errors.Is(err, library.ErrNotLibrary), err)
	_, err = library.Build(t.Context(), os.DevNull, []string{mixed(t)}, nil)
	require.ErrorIs(t, err, library.ErrNotLibrary)
}
