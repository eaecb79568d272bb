package structure_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata/structure"
)

// BenchmarkPhase computes structures up to 150° Cu Kα.
func BenchmarkPhase(b *testing.B) {
	var all []*structure.Structure
	for _, o := range smallOracle(b) {
		s, err := structure.FromRecord(o.record())
		require.NoError(b, err)
		all = append(all, s)
	}
	benchmark(b, all, func(s *structure.Structure) *structure.Structure { return s })
}

// BenchmarkPhaseOracle does so for all 98 of the oracle.
func BenchmarkPhaseOracle(b *testing.B) {
	files, err := filepath.Glob(filepath.Join(shared(b, "oracle", "cif"), "*.cif"))
	require.NoError(b, err)
	var all []*structure.Structure
	for _, f := range files {
		all = append(all, readFile(b, f)...)
	}
	benchmark(b, all, func(s *structure.Structure) *structure.Structure { return s })
}

// BenchmarkRecordToPhase starts from records, as the starter collection does.
func BenchmarkRecordToPhase(b *testing.B) {
	benchmark(b, smallOracle(b), func(o oraclePhase) *structure.Structure {
		s, err := structure.FromRecord(o.record())
		require.NoError(b, err)
		return s
	})
}

func benchmark[T any](b *testing.B, all []T, make func(T) *structure.Structure) {
	cu := beam(b, "Cu")
	lines := 0
	for b.Loop() {
		lines = 0
		for _, one := range all {
			p, err := make(one).Phase(cu)
			require.NoError(b, err)
			lines += len(p.Lines)
		}
	}
	b.ReportMetric(float64(b.N*len(all))/b.Elapsed().Seconds(), "structures/s")
	b.ReportMetric(float64(lines), "lines")
}
