package library_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
)

func TestBuildAndOpen(t *testing.T) {
	dir, dst := mixed(t), filepath.Join(t.TempDir(), "mine lib?.lib")
	var seen []library.Progress
	report, err := library.Build(t.Context(), dst, []string{dir}, func(p library.Progress) { seen = append(seen, p) })
	require.NoError(t, err)
	assert.Equal(t, 4, report.Phases)
	assert.Equal(t, 6, report.Files)
	assert.Len(t, report.Problems, 5)
	assert.Len(t, seen, 6)
	assert.Equal(t, 6, seen[5].Done)
	assert.NoFileExists(t, dst+".part")

	lib, err := library.Open(dst)
	require.NoError(t, err)
	defer func() { assert.NoError(t, lib.Close()) }()
	loose, _, err := library.FromFiles(t.Context(), dir)
	require.NoError(t, err)
	require.ElementsMatch(t, ids(loose), ids(lib))
	mo, cautions := copper(t), 0
	mo.Radiation, err = xrd.ParseRadiation("Mo")
	require.NoError(t, err)
	for i := range lib.Len() {
		j, ok := loose.Find(lib.Entry(i).ID)
		require.True(t, ok)
		sameEntry(t, loose.Entry(j), lib.Entry(i))
		want, err := loose.Phase(j, mo)
		require.NoError(t, err)
		got, err := lib.Phase(i, mo)
		require.NoError(t, err)
		cautions += len(got.Cautions)
		assert.JSONEq(t, encoded(t, want.Cautions), encoded(t, got.Cautions))
		want.Cautions, got.Cautions = nil, nil
		assert.Equal(t, want, got, "a phase comes back from disk as it went in")
	}
	assert.NotZero(t, cautions, "a missing displacement parameter, lists for copper")
	problems, err := lib.Problems()
	require.NoError(t, err)
	assert.Len(t, problems, 5)
	checked, err := lib.Check(t.Context(), nil)
	require.NoError(t, err)
	assert.Len(t, checked, 5, "and no phase that fails: %v", checked)
}

func encoded(t *testing.T, cautions []xrd.Caution) string {
	raw, err := json.Marshal(cautions)
	require.NoError(t, err)
	return string(raw)
}

func TestBuildAgainReadsOnlyWhatChanged(t *testing.T) {
	dir, dst := mixed(t), filepath.Join(t.TempDir(), "a.lib")
	_, err := library.Build(t.Context(), dst, []string{dir}, nil)
	require.NoError(t, err)
	put(t, filepath.Join(dir, "TiN.cif"), fmt.Sprintf(rocksalt, "tin", 4.26))
	require.NoError(t, os.Remove(filepath.Join(dir, "deep/other.CIF")))
	put(t, filepath.Join(dir, "new.cif"), fmt.Sprintf(rocksalt, "new", 4.4))
	report, err := library.Build(t.Context(), dst, []string{dir}, nil)
	require.NoError(t, err)
	assert.Equal(t, 4, report.Unchanged, "two bad files, the list and the duplicate")
	assert.Len(t, report.Problems, 5, "known problems are told again")
	lib, _, err := library.FromFiles(t.Context(), dst)
	require.NoError(t, err)
	defer func() { assert.NoError(t, lib.Close()) }()
	assert.ElementsMatch(t, []string{"TiN", "new", "my-bronze", "copper"}, ids(lib))
	i, _ := lib.Find("tin")
	assert.InDelta(t, 2.13, lib.Entry(i).Strong[0].D, 1e-6)
}

func many(t testing.TB, n int) string {
	dir := t.TempDir()
	for i := range n {
		put(t, filepath.Join(dir, fmt.Sprintf("p%04d.cif", i)), fmt.Sprintf(rocksalt, "p", 4+float64(i)/1e4))
	}
	return dir
}

func TestBuildGoesOnAfterCancellation(t *testing.T) {
	dir, dst := many(t, 60), filepath.Join(t.TempDir(), "a.lib")
	ctx, cancel := context.WithCancel(t.Context())
	_, err := library.Build(ctx, dst, []string{dir}, func(p library.Progress) {
		if p.Done == 25 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	assert.NoFileExists(t, dst, "nothing half-made takes the name")
	assert.FileExists(t, dst+".part")
	_, err = library.Open(dst + ".part")
	require.ErrorIs(t, err, library.ErrUnfinished)
	report, err := library.Build(t.Context(), dst, []string{dir}, nil)
	require.NoError(t, err)
	assert.Equal(t, 60, report.Phases)
	assert.GreaterOrEqual(t, report.Unchanged, 25)
	assert.Less(t, report.Unchanged, 60)
}

func TestBuildRefuses(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "thesis.txt")
	put(t, other, "precious")
	_, err := library.Build(t.Context(), other, []string{mixed(t)}, nil)
	require.ErrorIs(t, err, library.ErrNotLibrary)
	kept, err := os.ReadFile(other)
	require.NoError(t, err)
	assert.Equal(t, "precious", string(kept))

	dst := filepath.Join(dir, "none.lib")
	report, err := library.Build(t.Context(), dst, []string{folder(t, map[string]string{"a.cif": "x"})}, nil)
	require.ErrorIs(t, err, library.ErrNoPhases)
	assert.Len(t, report.Problems, 1)
	assert.NoFileExists(t, dst)
	assert.NoFileExists(t, dst+".part")

	_, err = library.Build(t.Context(), filepath.Join(dir, "no/such/folder.lib"), []string{mixed(t)}, nil)
	assert.Error(t, err)
	_, err = library.Build(t.Context(), dst, []string{filepath.Join(dir, "nowhere")}, nil)
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestOpenRefusesDamage(t *testing.T) {
	dst := filepath.Join(t.TempDir(), "a.lib")
	_, err := library.Build(t.Context(), dst, []string{many(t, 40)}, nil)
	require.NoError(t, err)
	whole, err := os.ReadFile(dst)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(3, 5))
	refused := 0
	for n := range 200 {
		bad := append([]byte(nil), whole...)
		if n%4 == 0 {
			bad = bad[:16+rng.IntN(len(bad)-16)]
		} else {
			for range 1 + rng.IntN(200) {
				bad[16+rng.IntN(len(bad)-16)] = byte(rng.Uint32())
			}
		}
		path := filepath.Join(t.TempDir(), "bad.lib")
		require.NoError(t, os.WriteFile(path, bad, 0o644))
		lib, err := library.Open(path)
		if err != nil {
			refused++
			continue
		}
		for i := range lib.Len() {
			_, _ = lib.Phase(i, copper(t)) // must not panic
		}
		_ = lib.Close()
	}
	assert.Greater(t, refused, 100)
	_, err = library.Open(filepath.Join(t.TempDir(), "none"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	text := filepath.Join(t.TempDir(), "x.lib")
	put(t, text, "text")
	_, err = library.Open(text)
	assert.ErrorIs(t, err, library.ErrNotLibrary)
}

// invented makes cubic phases that are no real ones, of any number.
func invented(n int) func(func(refdata.Record) bool) {
	return func(yield func(refdata.Record) bool) {
		rng := rand.New(rand.NewPCG(1, uint64(n)))
		symbols := []string{"Ti", "Fe", "Cu", "Zn", "O", "S", "N", "Si", "Al", "Mg"}
		for i := range n {
			a := decimals(3 + 9*rng.Float64())
			r := refdata.Record{ID: fmt.Sprintf("invented-%06d", i), Name: fmt.Sprintf("invented phase %d", i), Formula: "TiO", SpaceGroup: "P m -3 m",
				Cell: refdata.Cell{A: a, B: a, C: a, Alpha: 90, Beta: 90, Gamma: 90}, Source: "invented", Strong: make([]refdata.StrongLine, 12)}
			for range 8 {
				r.Atoms = append(r.Atoms, refdata.Atom{Label: "X", Element: symbols[rng.IntN(len(symbols))], X: decimals(rng.Float64()), Y: decimals(rng.Float64()), Z: decimals(rng.Float64()), Occupancy: 1, B: 0.5})
			}
			for k := range r.Strong {
				r.Strong[k] = refdata.StrongLine{D: float32(0.8 + 4*rng.Float64()), Intensity: float32(100 - 8*k)}
			}
			if !yield(r) {
				return
			}
		}
	}
}

// decimals rounds as published structures do.
func decimals(x float64) float64 { return math.Round(x*1e4) / 1e4 }

func TestCreate(t *testing.T) {
	const n = 10_000
	dst := filepath.Join(t.TempDir(), "big.lib")
	require.NoError(t, library.Create(t.Context(), dst, "invented", invented(n)))
	lib, err := library.Open(dst)
	require.NoError(t, err)
	defer func() { assert.NoError(t, lib.Close()) }()
	require.Equal(t, n, lib.Len())
	i := 0
	for r := range invented(n) {
		e := lib.Entry(i)
		require.Equal(t, r.ID, e.ID)
		require.Equal(t, r.Strong, e.Strong)
		i++
	}
	j, ok := lib.Find("INVENTED-009999")
	assert.True(t, ok)
	phase, err := lib.Phase(j, copper(t))
	require.NoError(t, err)
	assert.Equal(t, "invented phase 9999", phase.Name)
	done, cancel := context.WithCancel(t.Context())
	cancel()
	err = library.Create(done, filepath.Join(t.TempDir(), "b.lib"), "invented", invented(5))
	assert.True(t, errors.Is(err, context.Canceled))
}

func BenchmarkOpen(b *testing.B) {
	for _, n := range []int{1_000, 10_000, 100_000, 500_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			if n > 10_000 && testing.Short() {
				b.Skip("-short")
			}
			dst := filepath.Join(b.TempDir(), "big.lib")
			require.NoError(b, library.Create(b.Context(), dst, "invented", invented(n)))
			info, err := os.Stat(dst)
			require.NoError(b, err)
			for b.Loop() {
				lib, err := library.Open(dst)
				require.NoError(b, err)
				require.NoError(b, lib.Close())
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/phase")
			b.ReportMetric(float64(info.Size())/float64(n), "bytes/phase")
		})
	}
}

// BenchmarkLookUp reports what each phase of a built library costs when all entries are read and when the last id is found.
func BenchmarkLookUp(b *testing.B) {
	const n = 10_000
	dst := filepath.Join(b.TempDir(), "big.lib")
	require.NoError(b, library.Create(b.Context(), dst, "invented", invented(n)))
	lib, err := library.Open(dst)
	require.NoError(b, err)
	defer func() { require.NoError(b, lib.Close()) }()
	lines := 0
	for name, do := range map[string]func(){
		"entries": func() {
			for i := range n {
				lines += len(lib.Entry(i).Strong)
			}
		},
		"find": func() {
			i, _ := lib.Find("INVENTED-009999")
			require.Equal(b, n-1, i)
		},
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				do()
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*n), "ns/phase")
		})
	}
}

// sameEntry allows for the steps in which a built file keeps intensities.
func sameEntry(t *testing.T, want, got refdata.Entry) {
	t.Helper()
	require.Len(t, got.Strong, len(want.Strong), want.ID)
	for k, l := range want.Strong {
		assert.Equal(t, l.D, got.Strong[k].D, want.ID)
		assert.InDelta(t, l.Intensity, got.Strong[k].Intensity, 0.001+1e-5, want.ID)
	}
	want.Strong, got.Strong = nil, nil
	assert.Equal(t, want, got)
}
