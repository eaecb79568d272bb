package library_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
)

// FuzzOpen: bytes of a library are changed, or it is cut, or it is another file altogether. Nothing panics, and a phase that is read
// without an error is the phase that was written.
func FuzzOpen(f *testing.F) {
	path := filepath.Join(f.TempDir(), "good.phases")
	_, err := library.Build(f.Context(), path, []string{"../../testdata/hostile/cif-good.cif", "../../testdata/hostile/list-good.csv"}, nil)
	require.NoError(f, err)
	good, err := os.ReadFile(path)
	require.NoError(f, err)
	lib, err := library.Open(path)
	require.NoError(f, err)
	want := read(f, lib)
	require.Len(f, want, 2)
	require.NoError(f, lib.Close())
	f.Add(uint32(100), []byte{1, 2, 3}, false)
	f.Add(uint32(0), []byte("SQLite format 3\x00"), true)
	for at := 0; at < len(good); at += len(good) / 40 {
		f.Add(uint32(at), []byte{good[at] ^ 4}, false)
	}
	f.Fuzz(func(t *testing.T, at uint32, change []byte, cut bool) {
		raw := append([]byte{}, good...)
		at %= uint32(len(raw))
		copy(raw[at:], change)
		if cut {
			raw = raw[:min(int(at)+len(change), len(raw))]
		}
		name := filepath.Join(t.TempDir(), "a.phases")
		require.NoError(t, os.WriteFile(name, raw, 0o600))
		lib, err := library.Open(name)
		if err != nil {
			return
		}
		for id, got := range read(t, lib) {
			if _, failed := got.(error); !failed {
				require.Equal(t, want[id], got, id)
			}
		}
		_, _ = lib.Check(t.Context(), nil)
		require.NoError(t, lib.Close())
	})
}
