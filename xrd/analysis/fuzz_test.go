package analysis_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/xrdtest"
)

// FuzzRun: whatever the steps, the gaps, the masks and the intensities of a scan, its phases are looked for without a panic and in
// bounded time; fractions that are given add up to 100 and lie in their intervals.
func FuzzRun(f *testing.F) {
	for _, seed := range xrdtest.FuzzScans() {
		f.Add(seed, 0.0, 0.0, true)
		f.Add(seed, 35.0, 40.0, false)
	}
	copper, _ := xrd.ParseRadiation("Cu")
	f.Fuzz(func(t *testing.T, in []byte, from, to float64, named bool) {
		scan, err := xrdtest.ScanOfBytes(in)
		if err != nil {
			return
		}
		job := analysis.Job{Measurement: analysis.Measurement{Scan: scan, File: "fuzz.xy"}, Setting: analysis.Setting{Radiation: copper}}
		if from < to {
			job.Masks = [][2]float64{{from, to}}
		}
		if named {
			job.Phases = []string{"copper", "cuprite", "tin-beta"}
		}
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
		defer cancel()
		r, err := analysis.Run(ctx, job)
		if errors.Is(err, analysis.ErrNothingLeft) {
			return
		}
		require.NoError(t, err)
		sum, all := 0.0, len(r.Document.Phases) > 0
		for _, p := range r.Document.Phases {
			if p.WeightPercent == nil || p.Origin != "specimen" {
				all = all && p.WeightPercent != nil
				continue
			}
			w := *p.WeightPercent
			sum += w
			require.True(t, w >= 0 && w <= 100, "%s: %g", p.ID, w)
			if p.WeightPercentLo != nil && p.WeightPercentHi != nil {
				require.True(t, *p.WeightPercentLo <= w+1e-9 && w-1e-9 <= *p.WeightPercentHi, "%s: %g not in %g to %g", p.ID, w, *p.WeightPercentLo, *p.WeightPercentHi)
			}
		}
		if all && sum > 0 {
			require.InDelta(t, 100, sum, 1e-6)
		}
		for _, v := range r.Curves.Calculated {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		}
	})
}
