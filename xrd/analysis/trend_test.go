package analysis_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// bentDemo is the demo scan with the lines of each phase as fitted multiplied by a function of the phase and sin θ, on the
// fitted background, with new counting noise.
func bentDemo(t *testing.T, factor func(phase string, sin float64) float64) analysis.Job {
	t.Helper()
	j := demo(t)
	j.Phases = []string{"bronze-alpha", "cu3sn-epsilon"}
	first, err := analysis.Run(t.Context(), j)
	require.NoError(t, err)
	c := first.Curves
	require.True(t, len(c.Phases) == 2)
	source := rand.NewPCG(11, 1)
	y := make([]float64, len(c.TwoTheta))
	for i, angle := range c.TwoTheta {
		mean := c.Background[i]
		for p, curve := range c.Phases {
			mean += curve[i] * factor(first.Document.Phases[p].ID, math.Sin(xrd.Radians(angle)/2))
		}
		y[i] = distuv.Poisson{Lambda: math.Max(mean, 1e-3), Src: source}.Rand()
	}
	j.Scan, err = xrd.NewScan(c.TwoTheta, y, nil, j.Scan.About)
	require.NoError(t, err)
	return j
}

// TestTrendCautions: a slit that nobody declared is told from the intensities, and an ideal scan raises nothing of the
// kind (acceptance situation 2 of PRACTICE).
func TestTrendCautions(t *testing.T) {
	ideal := run(t, bentDemo(t, func(string, float64) float64 { return 1 }))
	assert.False(t, has(ideal, "slit-mode") || has(ideal, "layered"))
	automatic := bentDemo(t, func(_ string, sin float64) float64 { return sin })
	doc := run(t, automatic)
	require.True(t, has(doc, "slit-mode"))
	assert.Contains(t, caution(t, doc, "slit-mode").Text, "were corrected")
	automatic.Instrument.Slit, _ = xrd.ParseSlit("automatic:10")
	declared := run(t, automatic)
	assert.False(t, has(declared, "slit-mode"), "once declared")
	for _, p := range declared.Phases {
		assert.InDelta(t, *p.WeightPercent, *phase(t, doc, p.ID).WeightPercent, 0.5, "corrected as if it had been declared")
	}
}

// TestGrainsAndWatch: a grain size changes fractions of phases that absorb differently, and a watched phase gets a limit.
func TestGrainsAndWatch(t *testing.T) {
	j := demo(t)
	j.Phases = []string{"bronze-alpha", "cu3sn-epsilon"}
	plain := run(t, j)
	j.Grains = []analysis.Grain{{Diameter: 4}}
	j.Watch = []string{"quartz"}
	doc := run(t, j)
	assert.Greater(t, *phase(t, doc, "cu3sn-epsilon").WeightPercent, *phase(t, plain, "cu3sn-epsilon").WeightPercent, "it absorbs more than copper")
	found := false
	for _, n := range doc.NotDetected {
		if n.ID == "quartz" {
			found = n.Asked && n.DetectionLimit != nil && *n.DetectionLimit > 0
		}
	}
	assert.True(t, found)
	j.Watch = []string{"no such phase"}
	_, err := analysis.Run(t.Context(), j)
	assert.ErrorIs(t, err, analysis.ErrUnknownPhase)
	j.Watch, j.Grains = nil, []analysis.Grain{{ID: "cu3sn-epsilon", Diameter: 100}}
	assert.True(t, has(run(t, j), "microabsorption"), "very coarse grains")
}
