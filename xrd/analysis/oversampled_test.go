package analysis_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// fine returns a scan of 300,000 points: one line on a flat background.
func fine(t *testing.T) xrd.Scan {
	t.Helper()
	var x, y []float64
	for i := range 300_000 {
		at := 20 + 0.0002*float64(i)
		counts := 3.0 + float64(i*7919%5)
		if d := (at - 50) / 0.05; d*d < 100 {
			counts += float64(int(900 / (1 + d*d)))
		}
		x, y = append(x, at), append(y, counts)
	}
	scan, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	return scan
}

// TestOversampledScansAreJoinedAndSaid: the curves have fewer points than the scan, and a note says why.
func TestOversampledScansAreJoinedAndSaid(t *testing.T) {
	a, err := analysis.Run(t.Context(), analysis.Job{Measurement: analysis.Measurement{Scan: fine(t)}, Steps: analysis.PeaksOnly})
	require.NoError(t, err)
	assert.Less(t, len(a.Curves.TwoTheta), 50_000)
	codes := map[string]bool{}
	for _, c := range a.Document.Cautions {
		codes[c.Code] = true
	}
	assert.True(t, codes["oversampled"], codes)
	assert.NotEmpty(t, a.Document.Peaks)
}

// TestStoppedSearchReturnsAtOnce: a search for peaks is left within a fifth of a second when it is stopped.
func TestStoppedSearchReturnsAtOnce(t *testing.T) {
	scan := fine(t)
	best := time.Hour
	for range 20 { // a machine that is busy with something else now is less so later
		ctx, cancel := context.WithCancel(t.Context())
		var stopped time.Time
		time.AfterFunc(30*time.Millisecond, func() { stopped = time.Now(); cancel() })
		_, err := analysis.Run(ctx, analysis.Job{Measurement: analysis.Measurement{Scan: scan}, Steps: analysis.PeaksOnly})
		require.ErrorIs(t, err, context.Canceled)
		if best = min(best, time.Since(stopped)); best < 200*time.Millisecond {
			break
		}
	}
	assert.Less(t, best, 200*time.Millisecond)
}
