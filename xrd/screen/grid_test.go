package screen

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
)

func TestSteps(t *testing.T) {
	assert.InDeltaSlice(t, []float64{-0.5, -0.25, 0, 0.25, 0.5}, steps(0.5, 0.25), 1e-12)
	assert.Len(t, displacements(), 17)
	assert.Equal(t, 32, reachBins(NarrowReach))
	assert.Less(t, reachBins(WideReach), mostBins)
	assert.InDelta(t, NarrowReach, stretch(-32), 1e-4)
}

func TestGridBins(t *testing.T) {
	x := []float64{10, 50, 90}
	r := newGrid(x, 1.5405929, xrd.DefaultInstrument())
	assert.Equal(t, 0, r.bin(math.Exp(r.top)))
	d := 2.5
	for _, e := range []float64{-0.008, -0.0005, 0, 0.002, 0.03} {
		k := r.bin(d*(1+e)) - r.bin(d)
		assert.InDelta(t, e, stretch(k), binWidth, "a change of cell shifts by the same number everywhere")
		assert.InDelta(t, k, r.bin(1.2*(1+e))-r.bin(1.2), 1)
	}
	places := r.places(0.2)
	angle, _ := xrd.TwoTheta(d, 1.5405929)
	angle += xrd.DisplacementShift(angle, 0.2, 200)
	p := float64(places[r.bin(d)])
	k := int(p)
	assert.InDelta(t, angle, x[k]+(p-float64(k))*(x[k+1]-x[k]), 0.01)
	assert.Less(t, places[0], float32(0), "beyond the scan")
	assert.Less(t, r.bins, maxBins)
	assert.LessOrEqual(t, newGrid([]float64{1e-6, 90}, 1.54, xrd.DefaultInstrument()).bins, maxBins)
}
