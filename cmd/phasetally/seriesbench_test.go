package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A series of six scans of the demo, phases named, as the program runs it: with and without figures of every scan.
func BenchmarkSeries(b *testing.B) {
	names := []string{"ageing-000h.xy", "ageing-024h.xy", "ageing-072h.xy", "ageing-168h.xy", "ageing-336h.xy", "ageing-672h.xy"}
	for name, more := range map[string][]string{"figures": nil, "no figures": {"--no-figures"}} {
		b.Run(name, func(b *testing.B) {
			seriesScans(b, names...)
			args := append([]string{"series", "--phase", "bronze-alpha,tin-beta,cu6sn5-eta,cu3sn-epsilon", "--conditions", "ageing.csv", "--out", "s", "--force", "--quiet"}, more...)
			for b.Loop() {
				status, _, errs := program(b.Context(), append(args, names...)...)
				require.Equal(b, exitDone, status, errs)
			}
			b.ReportMetric(6*float64(b.N)/b.Elapsed().Seconds(), "scans/s")
		})
	}
}
