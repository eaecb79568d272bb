package identify

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
)

// bushing is a specimen of three phases, 5–150° in 7251 points.
var bushing = specimen{parts: []part{{"copper", 400, 0.0004}, {"cu3sn-epsilon", 60, 0}, {"cuprite", 25, -0.0003}}, lo: 5, hi: 150, displacement: 0.08, seed: 7}

func BenchmarkRun(b *testing.B) {
	job := bushing.job(b, library.Starter())
	var out *Explanation
	for b.Loop() {
		var err error
		out, err = Run(context.Background(), job)
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(out.Matches)), "phases") // a faster search that finds fewer is no gain
	require.Len(b, out.Matches, 3)
}
