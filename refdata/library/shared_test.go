package library_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
)

// shared finds the folder of fetched data beside the checkout.
func shared(t testing.TB, parts ...string) string {
	path := filepath.Join(append([]string{"..", "..", "..", "shared"}, parts...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("SKIPPED: %s is not there; this claim is tested on files of our own only", path)
	}
	return path
}

// All structures of the independent collection and the awkward files go into one library; what shares an id is
// reported, nothing is fatal, and every phase computes.
func TestBuildOverSharedStructures(t *testing.T) {
	plain, awkward := shared(t, "oracle", "cif"), shared(t, "oracle", "cif_torture")
	dst := filepath.Join(t.TempDir(), "shared.lib")
	report, err := library.Build(t.Context(), dst, []string{plain, awkward}, nil)
	require.NoError(t, err)
	t.Log(report)
	lib, err := library.Open(dst)
	require.NoError(t, err)
	defer func() { assert.NoError(t, lib.Close()) }()
	files, err := filepath.Glob(filepath.Join(plain, "*.cif"))
	require.NoError(t, err)
	for _, file := range files {
		_, err := lib.Lookup(strings.TrimSuffix(filepath.Base(file), ".cif"))
		assert.NoError(t, err, file)
	}
	assert.Greater(t, lib.Len(), len(files))
	checked, err := lib.Check(t.Context(), nil)
	require.NoError(t, err)
	assert.Len(t, checked, len(report.Problems), "%v", checked)
}

// The starter's 98 shared structures were carried over once; the same cell, density and lines must come out of both.
func TestStarterAgainstSharedFiles(t *testing.T) {
	lib, _, err := library.FromFiles(t.Context(), shared(t, "oracle", "cif"))
	require.NoError(t, err)
	starter := library.Starter()
	matched := 0
	for i := range lib.Len() {
		want, err := lib.Phase(i, copper(t))
		require.NoError(t, err)
		for j := range starter.Len() {
			got, err := starter.Phase(j, copper(t))
			require.NoError(t, err)
			if *got.Cell == *want.Cell && sameShares(got, want) {
				matched++
				assert.InEpsilon(t, want.Density, got.Density, 1e-6, got.ID)
				assert.InEpsilon(t, want.RIR.Value, got.RIR.Value, 1e-4, got.ID)
				require.Len(t, got.Lines, len(want.Lines), got.ID)
			}
		}
	}
	assert.Equal(t, 98, matched)
}

func sameShares(a, b refdata.Phase) bool {
	shares := map[string]float64{}
	for _, s := range a.Composition {
		shares[s.Symbol] = s.MassFraction
	}
	for _, s := range b.Composition {
		if d := shares[s.Symbol] - s.MassFraction; d > 1e-6 || d < -1e-6 {
			return false
		}
	}
	return len(a.Composition) == len(b.Composition)
}
