package calibrate_test

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/calibrate"
)

// si640c are silicon lines as measured and where they should be for a = 5.4311946 Å and 1.5405929 Å. Measured angles: Ida,
// Goto & Hibino, J. Appl. Cryst. 42 (2009) 597–606, table 3, given to 0.01° (read); references derived apart from this code.
var si640c = []calibrate.Position{
	{Reference: 28.4409, Observed: 28.59}, {Reference: 47.3003, Observed: 47.44}, {Reference: 56.1193, Observed: 56.26},
	{Reference: 69.1261, Observed: 69.24}, {Reference: 76.3718, Observed: 76.48}, {Reference: 88.0247, Observed: 88.12},
	{Reference: 94.9463, Observed: 95.05}, {Reference: 106.7009, Observed: 106.79}, {Reference: 114.0834, Observed: 114.16},
	{Reference: 127.5330, Observed: 127.6}, {Reference: 136.8789, Observed: 136.92},
}

// TestSi640c: zero and displacement explain shifts of 0.04° to 0.15° to within the 0.01° in which the angles are given.
// Rounding alone scatters by 0.01/√12 = 0.003°; the residual s.d. must stay below that of the last digit.
func TestSi640c(t *testing.T) {
	s, err := calibrate.FitPositions(si640c, 185)
	require.NoError(t, err)
	assert.Less(t, s.ResidualSD, 0.01)
	var before float64
	for i, p := range si640c {
		before += (p.Observed - p.Reference) * (p.Observed - p.Reference)
		assert.Less(t, math.Abs(s.Residuals[i]), 0.012, "line %d: %+.4f°", i, s.Residuals[i])
	}
	assert.Less(t, s.ResidualSD, math.Sqrt(before/float64(len(si640c)))/10, "explained")
	// The shift falls by 0.108° from the first line to the last, −2 s/R (cos 14.2° − cos 68.4°); two lines that scatter by
	// 0.007° give that to 0.01°, a tenth.
	rough := -0.108 / (2 * (0.9694 - 0.3677) * 180 / math.Pi) * 185
	assert.InEpsilon(t, rough, s.Displacement, 0.2)
	t.Logf("zero %+.4f ± %.4f°, displacement %+.4f ± %.4f mm (R = 185 mm), ρ = %.4f, residual s.d. %.4f°",
		s.Zero, s.ZeroU, s.Displacement, s.DisplacementU, s.Correlation, s.ResidualSD)
}

// TestSi640cFile holds the list above against the table it was taken from.
func TestSi640cFile(t *testing.T) {
	rows, err := readCSV(filepath.Join("..", "..", "..", "shared", "reference", "b_si640c_measured_peaks_ida2009.csv"))
	if err != nil {
		t.Skip("SKIPPED: the measured peaks (../shared/reference) are not here")
	}
	require.Len(t, rows, len(si640c))
	for i, row := range rows {
		for key, want := range map[string]float64{"two_theta": si640c[i].Observed, "two_theta_ref_derived": si640c[i].Reference} {
			v, err := strconv.ParseFloat(row[key], 64)
			require.NoError(t, err)
			assert.Equal(t, want, v)
		}
	}
}

// TestPositionsExact: without noise the fit returns what went in, for any displacement, zero and radius.
func TestPositionsExact(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		zero, s, radius := rnd.Float64()-0.5, rnd.Float64()-0.5, 100+200*rnd.Float64()
		var ps []calibrate.Position
		for range 3 + rnd.IntN(8) {
			at := 15 + 130*rnd.Float64()
			ps = append(ps, calibrate.Position{Reference: at, Observed: at + zero + xrd.DisplacementShift(at, s, radius), U: 0.001 + 0.01*rnd.Float64()})
		}
		got, err := calibrate.FitPositions(ps, radius)
		require.NoError(t, err)
		assert.InDelta(t, zero, got.Zero, 1e-8)
		assert.InDelta(t, s, got.Displacement, 1e-8*radius)
		assert.InDelta(t, 0, got.ResidualSD, 1e-9)
	}
}

// TestPositionsUncertainty draws noisy positions 2000 times: the scatter of the results is what the covariance says, and the
// correlation of the shifts over 20–80° is −0.997 (common practice; derived there).
func TestPositionsUncertainty(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 9))
	const n, u, radius = 2000, 0.002, 200.0
	const middle = 53.2 // where cos θ has its mean over the lines
	var ps []calibrate.Position
	for at := 20.0; at <= 80; at += 5 {
		ps = append(ps, calibrate.Position{Reference: at, U: u})
	}
	var z2, s2, at2 float64
	var last calibrate.Shift
	for range n {
		for i := range ps {
			ps[i].Observed = ps[i].Reference + u*rnd.NormFloat64()
		}
		// χ² widens the covariance of unlucky draws; the smallest is the one that the uncertainties alone give.
		got, err := calibrate.FitPositions(ps, radius)
		require.NoError(t, err)
		if last.ZeroU == 0 || got.ZeroU < last.ZeroU {
			last = got
		}
		sum, _ := got.At(middle)
		z2, s2, at2 = z2+got.Zero*got.Zero, s2+got.Displacement*got.Displacement, at2+sum*sum
	}
	_, sumU := last.At(middle)
	assert.InEpsilon(t, math.Sqrt(z2/n), last.ZeroU, 0.06) // 2000 draws give a standard deviation to 1.6 %
	assert.InEpsilon(t, math.Sqrt(s2/n), last.DisplacementU, 0.06)
	assert.InEpsilon(t, math.Sqrt(at2/n), sumU, 0.06)
	assert.InDelta(t, -0.997, last.Correlation, 0.0015)
	assert.InEpsilon(t, 1/math.Sqrt(1-last.Correlation*last.Correlation), last.ZeroU/sumU, 0.05,
		"at mid-range the sum is known better than the zero by the factor that the correlation costs")
}

func TestPositionsRefused(t *testing.T) {
	nan := math.NaN()
	for name, ps := range map[string][]calibrate.Position{
		"none":               nil,
		"one":                {{Reference: 30, Observed: 30.1, U: 0.01}},
		"two without u":      {{Reference: 30, Observed: 30.1}, {Reference: 60, Observed: 60.1}},
		"all at one angle":   {{Reference: 30, Observed: 30.1}, {Reference: 30, Observed: 30.2}, {Reference: 30, Observed: 30.3}},
		"not a number":       {{Reference: nan, Observed: 1, U: 1}, {Reference: 60, Observed: 60.1, U: 1}},
		"infinite":           {{Reference: 30, Observed: math.Inf(1), U: 1}, {Reference: 60, Observed: 60.1, U: 1}},
		"negative u":         {{Reference: 30, Observed: 30, U: -1}, {Reference: 60, Observed: 60.1, U: 1}},
		"u is not a number":  {{Reference: 30, Observed: 30, U: nan}, {Reference: 60, Observed: 60.1, U: 1}},
		"beyond all numbers": {{Reference: 30, Observed: 30, U: 1e-300}, {Reference: 60, Observed: 60.1, U: 1e-300}},
	} {
		_, err := calibrate.FitPositions(ps, 200)
		assert.ErrorIs(t, err, calibrate.ErrTooFewLines, name)
	}
	_, err := calibrate.FitPositions(si640c, 0)
	assert.ErrorIs(t, err, calibrate.ErrTooFewLines)
	_, err = calibrate.FitPositions(si640c, nan)
	assert.ErrorIs(t, err, calibrate.ErrTooFewLines)
	two, err := calibrate.FitPositions([]calibrate.Position{{Reference: 30, Observed: 30.1, U: 0.01}, {Reference: 60, Observed: 60.1, U: 0.01}}, 200)
	require.NoError(t, err)
	assert.InDelta(t, 0.1, two.Zero, 1e-9)
}
