package pattern_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/simulate"
)

// sizedFit draws corundum and fluorite, 45 to 55 wt%, a share of the corundum being crystallites of a size in nm, and fits one profile a phase.
func sizedFit(t *testing.T, share, size, time float64, seed uint64) *pattern.Fit {
	t.Helper()
	beam := copper(t)
	phases := starters(t, beam, "corundum", "fluorite")
	job := simulate.Job{Radiation: beam, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 100, Step: 0.02, Time: time, Rate: 4000, Background: 40,
		Components: []simulate.Component{{Phase: phases[0], WeightPercent: 45 * (1 - share)}, {Phase: phases[1], WeightPercent: 55}}}
	if share > 0 {
		fine := phases[0]
		fine.ID = "fine corundum"
		job.Components = append(job.Components, simulate.Component{Phase: fine, WeightPercent: 45 * share, SizeNM: size})
	}
	made, err := simulate.Run(job)
	require.NoError(t, err)
	s := setup(made.TwoTheta, simulate.Count(made.Expected, seed), beam, phases)
	f, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	return f
}

// TestFootOf: what crystallites of a few nanometres beside large ones lose to the background is found again, in the phase that has them and in
// no other; where all crystallites are of one size, large or small, there is no foot.
func TestFootOf(t *testing.T) {
	f := sizedFit(t, 0.5, 6, 1, 1)
	foot, ok := f.FootOf(0)
	require.True(t, ok)
	assert.Greater(t, foot.Sigmas, 5.0)
	ratio := func(amounts []float64) float64 {
		p := f.Setup.Phases
		return f.Scales[0] * amounts[0] / p[0].RIR.Value / (f.Scales[1] * amounts[1] / p[1].RIR.Value)
	}
	assert.Less(t, ratio([]float64{1, 1}), 0.9*45/55, "one profile misses a part of it")
	assert.InDelta(t, 1, ratio(foot.Amounts)/(45.0/55), 0.1, "two find it")
	assert.Contains(t, []float64{5, 8}, foot.Size)
	_, ok = f.FootOf(1)
	assert.False(t, ok)

	for seed := range uint64(5) {
		for _, c := range []struct{ share, size, time float64 }{{0, 0, 1}, {0, 0, 0.05}, {1, 60, 1}, {1, 8, 1}} {
			f := sizedFit(t, c.share, c.size, c.time, seed)
			for p := range f.Scales {
				_, ok := f.FootOf(p)
				assert.False(t, ok, "%v, phase %d", c, p)
			}
		}
	}
	bare := &pattern.Fit{Scales: []float64{1}}
	_, ok = bare.FootOf(0)
	assert.False(t, ok)
}

func BenchmarkFootOf(b *testing.B) {
	_, s := mixture(b)
	f, err := pattern.Run(b.Context(), s, pattern.Full)
	require.NoError(b, err)
	for b.Loop() {
		f.FootOf(0)
	}
}
