package pattern_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/simulate"
)

// changed returns phases whose displacement parameters are larger by those of deltaB, Å².
func changed(phases []refdata.Phase, deltaB ...float64) []refdata.Phase {
	out := slices.Clone(phases)
	for k := range out {
		out[k].Lines = slices.Clone(phases[k].Lines)
		for i, l := range out[k].Lines {
			out[k].Lines[i].Intensity *= math.Exp(-deltaB[k] / (2 * l.D * l.D)) // 2 s² = 1/(2 d²)
		}
	}
	return out
}

// bent draws a mixture whose intensities change with the angle as displacement parameters make them, and returns a setup without that.
func bent(t *testing.T, seed uint64, deltaB ...float64) pattern.Setup {
	t.Helper()
	beam := copper(t)
	phases := starters(t, beam, "corundum", "calcite", "silicon")[:len(deltaB)]
	job := simulate.Job{Radiation: beam, Instrument: xrd.DefaultInstrument(), Lo: 20, Hi: 90, Step: 0.02, Time: 1, Rate: 4000, Background: 20}
	for _, p := range changed(phases, deltaB...) {
		job.Components = append(job.Components, simulate.Component{Phase: p, WeightPercent: 100 / float64(len(deltaB))})
	}
	made, err := simulate.Run(job)
	require.NoError(t, err)
	return setup(made.TwoTheta, simulate.Count(made.Expected, seed), beam, phases)
}

// TestCommonDeltaB: what intensities of all phases lose at low or at high angles together is told, with its size and with what the scales would be
// without; where one phase alone departs from its structure, or none does, there is no trend.
func TestCommonDeltaB(t *testing.T) {
	for _, beta := range []float64{-0.35, 0.8} {
		s := bent(t, 1, beta, beta, beta)
		f, err := pattern.Run(t.Context(), s, pattern.Full)
		require.NoError(t, err)
		c, ok := f.CommonDeltaB()
		require.True(t, ok, beta)
		assert.InDelta(t, beta, c.Value, 3*c.U)
		assert.InDelta(t, bruteCommon(f), c.Value, 1e-6*math.Abs(c.Value), "the same by inverses of matrices")
		// Fitted with references that have the change, the scales are what the fit says that they would be.
		s.Phases = changed(s.Phases, c.Value, c.Value, c.Value)
		g, err := pattern.Run(t.Context(), s, pattern.Full)
		require.NoError(t, err)
		for k := 1; k < 3; k++ {
			before, after := f.Scales[k]/f.Scales[0], g.Scales[k]/g.Scales[0]
			want := after / before
			assert.InDelta(t, math.Log(want), math.Log(c.Amounts[k]/c.Amounts[0]), 0.2*math.Abs(math.Log(want))+0.005, "%g, phase %d", beta, k)
		}
	}
	for seed := range uint64(6) {
		for _, single := range [][]float64{{0, 0, 0}, {0, 0.8, 0}, {1, -0.6, 0}, {-0.7}, {0.5}} {
			f, err := pattern.Run(t.Context(), bent(t, seed, single...), pattern.Full)
			require.NoError(t, err)
			c, ok := f.CommonDeltaB()
			assert.False(t, ok, "%v %v", single, c)
		}
	}
}

// bruteCommon is the weighted mean of the displacement parameters that the data alone tell, each uncertain by the data and by its structure.
func bruteCommon(f *pattern.Fit) float64 {
	var at []int
	var b, p []float64
	free := 0
	for _, q := range f.Parameters {
		if !q.Free {
			continue
		}
		if q.Kind == pattern.Thermal && !q.AtBound() {
			at, b, p = append(at, free), append(b, q.Value), append(p, 1/(q.Prior.Sigma*q.Prior.Sigma))
		}
		free++
	}
	n := len(at)
	c, inverse, v, w := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil), mat.NewDense(n, n, nil), mat.NewDense(n, n, nil)
	for i := range n {
		for j := range n {
			c.Set(i, j, f.FreeCov[at[i]][at[j]])
		}
	}
	_ = inverse.Inverse(c)
	y := mat.NewVecDense(n, nil)
	y.MulVec(inverse, mat.NewVecDense(n, b))
	for i := range n {
		inverse.Set(i, i, inverse.At(i, i)-p[i])
	}
	_ = v.Inverse(inverse)
	x := mat.NewVecDense(n, nil)
	x.MulVec(v, y)
	for i := range n {
		v.Set(i, i, v.At(i, i)+1/p[i])
	}
	_ = w.Inverse(v)
	var sum, weight float64
	for i := range n {
		for j := range n {
			sum += w.At(i, j) * x.AtVec(j)
			weight += w.At(i, j)
		}
	}
	return sum / weight
}
