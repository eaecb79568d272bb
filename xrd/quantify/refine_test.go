package quantify_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// complete fits named phases as an analysis does.
func complete(t testing.TB, s pattern.Setup) *pattern.Fit {
	t.Helper()
	f, err := quantify.FitKnown(t.Context(), s)
	require.NoError(t, err)
	return f
}

// TestFitKnown: the fit of named phases ends where a full fit does, and points are left to nobody only where a phase is
// missing, whose lines then do not bend the others.
func TestFitKnown(t *testing.T) {
	phases := []refdata.Phase{invented(0, 1), invented(1, 3.4), invented(2, 5)}
	scales := []float64{500, 680, 1500}
	s := counts(t, phases, scales, 1)
	full, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	f := complete(t, s)
	assert.Nil(t, f.Setup.Doubt)
	for p := range phases {
		assert.InDelta(t, full.Scales[p], f.Scales[p], 0.1*math.Sqrt(full.ScaleCov[p][p]))
	}
	s.Phases = phases[:2]
	f = complete(t, s)
	require.NotNil(t, f.Setup.Doubt)
	for p := range s.Phases {
		assert.InDelta(t, scales[p], f.Scales[p], 4*math.Sqrt(f.ScaleCov[p][p]))
	}
	for _, l := range phases[2].Lines[:2] {
		at := nearest(s.TwoTheta, 2*math.Asin(s.Radiation.KAlpha1/2/l.D)*180/math.Pi)
		assert.Greater(t, f.Setup.Doubt[at], 0.0, "the line at %.2f Å is nobody's", l.D)
	}
}

func nearest(x []float64, at float64) (best int) {
	for i, v := range x {
		if math.Abs(v-at) < math.Abs(x[best]-at) {
			best = i
		}
	}
	return best
}
