package main

import (
	"io"
	"runtime"
	"runtime/debug"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

// The tables, pages and figures of 20 000 scans take no more memory than an old laptop has to spare.
func TestTwentyThousandScansStaySmall(t *testing.T) {
	if testing.Short() {
		t.Skip("NOT TESTED: memory of a series of 20 000 scans, because of -short")
	}
	const scans, most = 20000, 300 << 20
	runtime.GC()
	defer debug.SetGCPercent(debug.SetGCPercent(lazyGC))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(-1))
	spareMemory()
	var peak atomic.Uint64
	done := make(chan struct{})
	defer close(done)
	go func() {
		for {
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak.Store(max(peak.Load(), m.Sys-m.HeapReleased))
			select {
			case <-done:
				return
			case <-time.After(5 * time.Millisecond):
			}
		}
	}()
	t.Chdir(t.TempDir())
	s := resulttest.Series(scans)
	for i := range s.Scans {
		s.Scans[i].Folder, s.Scans[i].HasReport = "", false
	}
	folder, err := resultfile.OpenSeries("long", nil, false)
	require.NoError(t, err)
	defer folder.Close()
	o := seriesOptions{options: options{format: "csv", out: "long"}}
	read := func(int) (result.Analysis, error) { return resulttest.Mixture(1), nil }
	require.NoError(t, o.writeSeries(folder, s, func() (map[string]*plots.Figure, error) {
		return drawSeries(s, read, plots.Style{}, plots.StackOptions{})
	}))
	require.Error(t, o.printSeries(s, io.Discard, io.Discard), "a scan has no answer")
	assert.Less(t, peak.Load(), uint64(most), "%d MB", peak.Load()>>20)
	t.Logf("%d MB at most", peak.Load()>>20)
	for _, name := range []string{"series.html", "series.csv", "series-wide.csv", "series.json", "series.parquet", "trend.svg", "scans-000001-000500.html", "scans-019501-020000.html"} {
		assert.FileExists(t, "long/"+name)
	}
	again, err := resultfile.ReadSeries("long")
	require.NoError(t, err)
	assert.Len(t, again.Scans, scans)
	_, err = plots.Trend(again, plots.Style{})
	require.NoError(t, err)
}
