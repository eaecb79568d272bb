package quantify_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// manyLines is an invented phase of sixteen free lines over 22° to 78°.
func manyLines(number int) refdata.Phase {
	p := invented(number, 1)
	p.Lines, p.MeanB = nil, 0.5
	for i := range 16 {
		sin := 0.195 + 0.0285*float64(i) + 0.0125*float64(number)
		p.Lines = append(p.Lines, refdata.Line{D: 1.5406 / 2 / sin, Intensity: 100 - 4*float64(i)})
	}
	return p
}

// bent fits a scan of two phases whose lines were multiplied by a function of sin θ and the phase.
func bent(t *testing.T, factor func(p int, sin float64) float64) *pattern.Fit {
	t.Helper()
	phases := []refdata.Phase{manyLines(0), manyLines(1)}
	var drawn []refdata.Phase
	for i, p := range phases {
		q := p
		q.Lines = append([]refdata.Line(nil), p.Lines...)
		for k := range q.Lines {
			q.Lines[k].Intensity *= factor(i, 1.5406/2/q.Lines[k].D)
		}
		drawn = append(drawn, q)
	}
	s := counts(t, drawn, []float64{1200, 900}, 5)
	s.Phases = phases
	f, err := pattern.Run(context.Background(), s, pattern.Quick)
	require.NoError(t, err)
	return f
}

func TestTrendsOf(t *testing.T) {
	ideal := quantify.TrendsOf(bent(t, func(int, float64) float64 { return 1 }))
	assert.Less(t, math.Abs(ideal.Slit.Sigmas()), 3.0)
	for _, s := range ideal.Phases {
		assert.Less(t, math.Abs(s.Sigmas()), 3.0)
	}
	assert.Greater(t, ideal.Lines, 25, "of 32 lines")

	automatic := quantify.TrendsOf(bent(t, func(_ int, sin float64) float64 { return sin }))
	assert.Greater(t, automatic.Slit.Sigmas(), 3.0)
	assert.InDelta(t, 1, automatic.Slit.Value, 3*automatic.Slit.U, "an automatic slit goes as sin θ")

	limit := math.Sin(xrd.Radians(44) / 2)
	short := quantify.TrendsOf(bent(t, func(_ int, sin float64) float64 { return math.Min(1, sin/limit) }))
	assert.Greater(t, short.Slit.Sigmas(), 3.0)
	assert.Greater(t, short.LimitGains, 6.0)
	assert.InDelta(t, 44, short.Full, 6)

	film := quantify.TrendsOf(bent(t, func(p int, sin float64) float64 {
		const depth = 0.6 // 2 μ t
		if p == 0 {
			return math.Exp(-depth / sin)
		}
		return 1 - math.Exp(-depth/sin)
	}))
	assert.Greater(t, film.Phases[0].Sigmas(), 3.0, "the substrate rises with the angle")
	assert.Less(t, film.Phases[1].Sigmas(), -3.0, "the layer falls")
}

func TestTrendsWithoutLines(t *testing.T) {
	f := bent(t, func(int, float64) float64 { return 1 })
	f.Scales[0], f.Scales[1] = 0, 0
	tr := quantify.TrendsOf(f)
	assert.Zero(t, tr.Lines)
	assert.InDelta(t, 0, tr.Slit.Sigmas(), 1e-9)
}

func TestAlike(t *testing.T) {
	twin := invented(0, 1)
	twin.ID = "twin"
	f := fitted(t, counts(t, []refdata.Phase{invented(0, 1), twin, invented(1, 1)}, []float64{50, 30, 40}, 2))
	pairs := quantify.Alike(f)
	require.Len(t, pairs, 1)
	assert.Equal(t, [2]int{0, 1}, pairs[0].Phases)
	assert.Less(t, pairs[0].Rho, -0.95)
	assert.Empty(t, quantify.Alike(fitted(t, counts(t, []refdata.Phase{invented(0, 1), invented(1, 1)}, []float64{50, 40}, 2))))
}
