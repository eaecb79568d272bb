package pattern_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// TestFitEndsWithinItsWork: a fit that may take little work ends near it and says that it has not converged; one that may take more than it needs is
// the fit that nothing bounds, to the last digit, and hands no bound on to fits that begin where it ended.
func TestFitEndsWithinItsWork(t *testing.T) {
	cu := copper(t)
	phases := starters(t, cu, "corundum", "zincite")
	x := angles(20, 90, 0.02)
	y := truth{phases: phases, scales: []float64{900, 700}, stretch: []float64{0, 0}, background: 30}.expected(x, cu, xrd.DefaultInstrument())
	s := setup(x, counted(y, 4), cu, phases)
	free, err := pattern.Run(t.Context(), s, pattern.Full)
	require.NoError(t, err)
	require.Positive(t, free.Work)
	wide, err := pattern.RunWithin(t.Context(), s, pattern.Full, 10*free.Work)
	require.NoError(t, err)
	assert.Equal(t, free.Scales, wide.Scales)
	assert.Equal(t, free.Work, wide.Work)
	short, err := pattern.RunWithin(t.Context(), s, pattern.Full, free.Work/4)
	require.NoError(t, err)
	each := free.Work / float64(free.Iterations)
	assert.Less(t, short.Work, free.Work/4+7*each, "every stage takes one step at least")
	assert.GreaterOrEqual(t, short.Work, free.Work/4, "so that whoever counts knows that it was stopped")
	assert.Equal(t, leastsq.IterationLimit, short.Status)
	next := short.Setup
	next.Start = short.Restart(pattern.FullFit)
	on, err := pattern.Run(t.Context(), next, pattern.Full)
	require.NoError(t, err)
	assert.NotEqual(t, leastsq.IterationLimit, on.Status)
	assert.InEpsilon(t, free.Scales[0], on.Scales[0], 1e-3)
}

// TestRejectedTextureIsCounted: a fit with texture that is not taken has cost its work all the same.
func TestRejectedTextureIsCounted(t *testing.T) {
	f := texturedCalcite(t, [3]int{1, 1, 0}, 0.9, 0.02, 40)
	before := f.Work
	g, err := pattern.ReleaseTexture(t.Context(), f)
	require.NoError(t, err)
	require.Nil(t, g.Setup.Poles, "a texture was tried and not taken")
	assert.Greater(t, g.Work, before)
}
