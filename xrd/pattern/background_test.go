package pattern_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
	"phasetally/xrd/pattern"
)

// TestSplines: cubic B-splines sum to 1 everywhere (identity), also over a gap of the scan, and reproduce a straight
// line from coefficients at the knots (j − 1 intervals from the first).
func TestSplines(t *testing.T) {
	x := append(angles(10, 40, 0.1), angles(60, 100, 0.1)...)
	for _, n := range []int{2, 5, 30} {
		cols := pattern.Splines(x, n)
		require.Len(t, cols, n+3)
		for i, v := range x {
			var sum, line float64
			for j, c := range cols {
				first, end := c.Bounds()
				if i < first || i >= end {
					continue
				}
				b := c.Values[i-first]
				require.GreaterOrEqual(t, b, 0.0)
				sum += b
				line += b * (10 + float64(j-1)*90/float64(n))
			}
			assert.InDelta(t, 1, sum, 1e-12)
			require.InDelta(t, v, line, 1e-9)
		}
	}
}

// TestClampedSplines: with four knots at either end, columns are not negative, add up to 1 and reproduce a straight line from its values at
// the means of three neighbouring knots (Greville's abscissae), none of which lies outside the range; and they make the same splines.
func TestClampedSplines(t *testing.T) {
	x := append(angles(10, 40, 0.1), angles(60, 100, 0.1)...)
	for _, n := range []int{2, 5, 30} {
		var sum, line = make([]float64, len(x)), make([]float64, len(x))
		cols := pattern.ClampedSplines(x, n)
		require.Len(t, cols, n+3)
		for j, c := range cols {
			for i, b := range c.Values {
				require.GreaterOrEqual(t, b, 0.0)
				sum[c.First+i] += b
				line[c.First+i] += b * (10 + 90*greville(j, n))
			}
		}
		for i, v := range x {
			require.InDelta(t, 1, sum[i], 1e-12)
			require.InDelta(t, v, line[i], 1e-9)
		}
		y := make([]float64, len(x))
		for i := range y {
			y[i] = rand.New(rand.NewPCG(1, uint64(i))).NormFloat64()
		}
		require.InDeltaSlice(t, through(t, pattern.Splines(x, n), y), through(t, cols, y), 1e-6)
	}
}

// greville returns the mean of the inner knots of column j, of n intervals from 0 to 1 whose ends are knots four times.
func greville(j, n int) float64 {
	var sum float64
	for k := j - 2; k <= j; k++ {
		sum += float64(min(max(k, 0), n)) / float64(n)
	}
	return sum / 3
}

// through fits columns to a curve.
func through(t *testing.T, columns []leastsq.Strip, y []float64) []float64 {
	var solver leastsq.SeparableSolver
	res, err := solver.Fit(t.Context(), leastsq.SeparableProblem{Model: nothing(len(y)), Fixed: columns, Y: y}, leastsq.Settings{})
	require.NoError(t, err)
	return res.Fitted
}

// nothing is a model of so many points without parameters.
type nothing int

func (n nothing) Size() (points, linear, nonlinear int)       { return int(n), 0, 0 }
func (nothing) Columns([]float64, [][]float64)                {}
func (nothing) Derivatives([]float64, []float64, [][]float64) {}

// TestBackgroundIsNotNegative: lines that are sharper at their feet than those of the fit would draw the background below nothing, where
// no scan is. A scan of which something was taken away may have it there.
func TestBackgroundIsNotNegative(t *testing.T) {
	x := angles(20, 80, 0.05)
	y := make([]float64, len(x))
	phases := starters(t, copper(t), "corundum")
	for _, l := range phases[0].Lines {
		for i, v := range x {
			y[i] += 100 * l.Intensity * xrd.PseudoVoigt(v-l.TwoTheta, 0.5, 0)
		}
	}
	for _, taken := range []float64{0, 50} {
		s := setup(x, slices.Clone(y), copper(t), phases)
		s.Radiation.Ratio = 0
		s.Instrument.LorentzSize = 3
		for i := range s.Intensity {
			s.Intensity[i] -= taken
			s.Sigma[i] = 10
		}
		f := run(t, s, pattern.Full)
		if least := slices.Min(f.Background); taken == 0 {
			assert.GreaterOrEqual(t, least, 0.0)
			assert.True(t, pattern.Bounded(f))
		} else {
			assert.Less(t, least, -taken)
			assert.False(t, pattern.Bounded(f))
		}
	}
}

// TestBackgroundOfAnyShape: over random haloes, steep rises at low angles and ends that fall to nothing, the background of a fit is nowhere
// below nothing by more than three times the noise of a point. Where it did not go there, nothing is bounded.
func TestBackgroundOfAnyShape(t *testing.T) {
	bounded := 0
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 5))
		x := angles(12+10*r.Float64(), 60+20*r.Float64(), 0.05)
		s := truth{phases: starters(t, copper(t), "corundum", "zincite"), scales: []float64{300 * r.ExpFloat64(), 100}, stretch: []float64{0, 0}}
		ins := xrd.DefaultInstrument()
		if seed%2 == 1 { // sharper at their feet than any line of the model
			ins.LorentzSize, ins.LorentzStrain = 0, 0
		}
		y := s.expected(x, copper(t), ins)
		rise, halo, at, fall := 3000*r.Float64(), 300*r.Float64(), 20+30*r.Float64(), 2+20*r.Float64()
		for i, v := range x {
			y[i] += rise*math.Exp(-(v-x[0])/1.5) + halo*math.Exp(-(v-at)*(v-at)/50) + 40*(1-math.Exp(-(x[len(x)-1]-v)/fall))
		}
		set := setup(x, counted(y, seed), copper(t), s.phases)
		if seed%2 == 1 {
			set.Instrument.LorentzSize, set.Hold = 0.4, []pattern.Kind{pattern.WidthX}
		}
		f := run(t, set, pattern.Full)
		if pattern.Bounded(f) {
			bounded++
		}
		for i, b := range f.Background {
			require.GreaterOrEqual(t, b, -3*math.Sqrt(f.Noise[i]), "seed %d at %g", seed, x[i])
		}
	}
	assert.Positive(t, bounded)
	assert.Less(t, bounded, 12)
}

func TestKnotChoices(t *testing.T) {
	for _, span := range []float64{0.1, 5, 20, 80, 145, 180} {
		choices := pattern.KnotChoices(span)
		require.NotEmpty(t, choices)
		require.GreaterOrEqual(t, choices[0], 2)
		require.IsIncreasing(t, append([]int{1}, choices...), "no choice twice")
		require.LessOrEqual(t, choices[len(choices)-1], max(2, int(span/3)), "no interval as narrow as a line")
	}
}
