package pattern_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/pattern"
)

// What a fit with Kα2 says of scans that have it, and of those from which it was taken. Where nothing else can adapt, the share is
// what was simulated.
func TestKAlpha2(t *testing.T) {
	r := copper(t)
	for _, id := range []string{"copper", "fluorite", "quartz"} {
		s := truth{phases: starters(t, r, id), scales: []float64{300}, stretch: []float64{0.0005}, background: 20}
		x := angles(20, 110, 0.02)
		share, u := run(t, setup(x, counted(s.expected(x, r, xrd.DefaultInstrument()), 5), r, s.phases), pattern.Full).KAlpha2()
		assert.InDelta(t, 1, share, 4*u+0.01, id)
		single := r
		single.Ratio = 0
		f := run(t, setup(x, counted(s.expected(x, single, xrd.DefaultInstrument()), 5), r, s.phases), pattern.Full)
		share, u = f.KAlpha2()
		assert.Less(t, share, 0.75, "%s: stripped", id)
		assert.Greater(t, 1-share, 20*u, id)
		t.Logf("%s: of a stripped scan %.2f ± %.3f", id, share, u)
		share, u = run(t, setup(x, counted(s.expected(x, single, xrd.DefaultInstrument()), 5), single, s.phases), pattern.Full).KAlpha2()
		assert.Equal(t, 1.0, share, "a radiation without Kα2 lacks none")
		assert.True(t, math.IsInf(u, 1))
	}
}
