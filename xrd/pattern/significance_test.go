package pattern_test

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"phasetally/xrd/pattern"
)

// oneMoreFit fits two phases of three; the pattern of the third at its true place is returned beside.
func oneMoreFit(t testing.TB) (f *pattern.Fit, third []float64) {
	t.Helper()
	_, s := mixture(t)
	all := s.Phases
	s.Phases = all[:2]
	f, err := pattern.Run(context.Background(), s, pattern.Full)
	require.NoError(t, err)
	return f, pattern.Calculate(s, all[2], 1, 0.08, 0.0008)
}

// TestSignificanceBeside compares with the covariance of an ordinary weighted least-squares fit by gonum's QR factors of the same columns.
func TestSignificanceBeside(t *testing.T) {
	f, third := oneMoreFit(t)
	got, err := f.SignificanceBeside(context.Background(), third, f.Variance)
	require.NoError(t, err)

	columns := append([][]float64{third}, f.Curves...)
	x := f.Setup.TwoTheta
	for _, strip := range pattern.Splines(x, f.Knots) {
		whole := make([]float64, len(x))
		copy(whole[strip.First:], strip.Values)
		columns = append(columns, whole)
	}
	a, y := mat.NewDense(len(x), len(columns), nil), mat.NewVecDense(len(x), nil)
	for i := range x {
		w := 1 / math.Sqrt(f.Variance[i])
		for j, c := range columns {
			a.Set(i, j, w*c[i])
		}
		y.SetVec(i, w*f.Setup.Intensity[i])
	}
	var qr mat.QR
	qr.Factorize(a)
	var c mat.VecDense
	require.NoError(t, qr.SolveVecTo(&c, false, y))
	var r, inverse mat.Dense
	qr.RTo(&r)
	require.NoError(t, inverse.Inverse(r.Slice(0, len(columns), 0, len(columns))))
	u := 0.0
	for j := range columns { // first row of R⁻¹R⁻ᵀ
		u += inverse.At(0, j) * inverse.At(0, j)
	}
	require.Greater(t, c.AtVec(0), 0.0)
	assert.InEpsilon(t, c.AtVec(0)/math.Sqrt(u), got, 1e-6)
	assert.Greater(t, got, 50.0, "the phase is there")
}

// A pattern that is not there has no significance, whatever its scale; nor has one that the fit has already.
func TestSignificanceBesideOfNothing(t *testing.T) {
	f, third := oneMoreFit(t)
	upside := make([]float64, len(third))
	for i, v := range third {
		upside[i] = -v
	}
	got, err := f.SignificanceBeside(context.Background(), upside, f.Variance)
	require.NoError(t, err)
	assert.Zero(t, got)
	again, err := f.SignificanceBeside(context.Background(), f.Curves[0], f.Variance)
	require.NoError(t, err)
	assert.Less(t, again, 1e-3)
	none, err := f.SignificanceBeside(context.Background(), make([]float64, len(third)), f.Variance)
	require.NoError(t, err)
	assert.Zero(t, none)
	for i := range third {
		third[i] *= 1e6
	}
	large, err := f.SignificanceBeside(context.Background(), third, f.Variance)
	require.NoError(t, err)
	for i := range third {
		third[i] *= 1e-12
	}
	small, err := f.SignificanceBeside(context.Background(), third, f.Variance)
	require.NoError(t, err)
	assert.InEpsilon(t, large, small, 1e-6)
}

func TestSignificanceBesideIsCancelled(t *testing.T) {
	f, third := oneMoreFit(t)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := f.SignificanceBeside(ctx, third, f.Variance)
	assert.ErrorIs(t, err, context.Canceled)
}

func BenchmarkSignificanceBeside(b *testing.B) {
	f, third := oneMoreFit(b)
	for b.Loop() {
		_, err := f.SignificanceBeside(context.Background(), third, f.Variance)
		require.NoError(b, err)
	}
}
