package xrd_test

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
)

// angles returns angles from lo to hi in steps that change from one to the other.
func angles(lo, hi, first, last float64) (x []float64) {
	for t := lo; t < hi; t += first + (last-first)*(t-lo)/(hi-lo) {
		x = append(x, t)
	}
	return x
}

// TestRunsCutAtGaps: steps that change smoothly, or once, are no gaps; four missing points are, three are not.
func TestRunsCutAtGaps(t *testing.T) {
	assert.Empty(t, xrd.Runs(nil))
	assert.Equal(t, []xrd.Run{{First: 0, End: 1}}, xrd.Runs([]float64{20}))
	even := angles(20, 60, 0.02, 0.02)
	for name, x := range map[string][]float64{"even": even, "changing": angles(5, 140, 0.005, 0.08),
		"coarser from 60° on": append(append([]float64{}, even...), angles(60.1, 120, 0.1, 0.1)...)} {
		assert.Len(t, xrd.Runs(x), 1, name)
		assert.Equal(t, x[len(x)-1]-x[0], xrd.Covered(x, xrd.Runs(x)), name)
	}
	without := func(from, n int) []float64 { return append(append([]float64{}, even[:from]...), even[from+n:]...) }
	assert.Len(t, xrd.Runs(without(700, 3)), 1)
	assert.Equal(t, []xrd.Run{{First: 0, End: 700}, {First: 700, End: len(even) - 4}}, xrd.Runs(without(700, 4)))
	assert.InDelta(t, 40-5*0.02, xrd.Covered(without(700, 4), xrd.Runs(without(700, 4))), 0.03)
}

// TestRunsHoldEveryPoint: runs follow each other without overlap, RunOf finds each point in the run that holds it, and there are as
// many as ranges were taken out, whatever the steps.
func TestRunsHoldEveryPoint(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	for range 300 {
		x := angles(10, 100, 0.005+0.05*rnd.Float64(), 0.005+0.05*rnd.Float64())
		cuts := rnd.IntN(5)
		for k := range cuts {
			lo := 12 + 17*float64(k) + 3*rnd.Float64()
			hi, kept := lo+1+8*rnd.Float64(), x[:0:0]
			for _, v := range x {
				if v < lo || v > hi {
					kept = append(kept, v)
				}
			}
			x = kept
		}
		runs := xrd.Runs(x)
		assert.Len(t, runs, cuts+1)
		next := 0
		for _, r := range runs {
			assert.Equal(t, next, r.First)
			for i := r.First; i < r.End; i++ {
				assert.Equal(t, r, xrd.RunOf(runs, i))
			}
			next = r.End
		}
		assert.Equal(t, len(x), next)
	}
}

func BenchmarkRuns(b *testing.B) {
	x := angles(10, 150, 0.02, 0.02)
	for b.Loop() {
		xrd.Runs(x)
	}
}
