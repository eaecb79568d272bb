package analysis

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// TestHides: a phase hides another that has nearly its lines, also when the fit leaves the other nothing at all.
func TestHides(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	list := func(id string, factor float64) refdata.Phase {
		p := refdata.Phase{ID: id}
		for _, d := range []float64{3.1, 2.6, 1.9} {
			p.Lines = append(p.Lines, refdata.Line{D: d * factor, Intensity: 100})
		}
		return p
	}
	s := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
	for at := 25.0; at < 55; at += 0.02 {
		s.TwoTheta, s.Intensity, s.Sigma = append(s.TwoTheta, at), append(s.Intensity, 20), append(s.Sigma, 1)
	}
	for i, v := range pattern.Calculate(s, list("there", 1), 200, 0, 0) {
		s.Intensity[i] += v
		s.Sigma[i] = math.Sqrt(s.Intensity[i])
	}
	for factor, want := range map[float64]bool{1.0004: true, 1.02: false} {
		s.Phases = []refdata.Phase{list("there", 1), list("other", factor)}
		f, err := pattern.Run(t.Context(), s, pattern.Quick)
		require.NoError(t, err)
		require.Greater(t, f.Scales[0]+f.Scales[1], 100.0)
		if f.Scales[0] == 0 {
			f.Scales[0], f.Curves[0] = f.Scales[1], f.Curves[1]
		}
		f.Scales[1] = 0
		f.Curves[1] = make([]float64, len(s.TwoTheta))
		assert.Equal(t, want, hides(f, 0, 1), factor)
	}
}
