package structure_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata/structure"
)

// BenchmarkPhase computes every structure of the oracle up to 150° Cu Kα.
func BenchmarkPhase(b *testing.B) {
	files, err := filepath.Glob(filepath.Join(shared(b, "oracle", "cif"), "*.cif"))
	require.NoError(b, err)
	var all []*structure.Structure
	for _, f := range files {
		all = append(all, readFile(b, f)...)
	}
	cu := beam(b, "Cu")
	lines := 0
	for b.Loop() {
		lines = 0
		for _, s := range all {
			p, err := s.Phase(cu)
			require.NoError(b, err)
			lines += len(p.Lines)
		}
	}
	b.ReportMetric(float64(b.N*len(all))/b.Elapsed().Seconds(), "structures/s")
	b.ReportMetric(float64(lines), "lines")
}
