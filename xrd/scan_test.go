package xrd_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd"
)

// columns returns n good points.
func columns(n int) (angles, counts []float64) {
	for i := range n {
		angles = append(angles, 10+0.02*float64(i))
		counts = append(counts, float64(100+i%7))
	}
	return angles, counts
}

// Angles must ascend; what is wrong with a scan is said with its place.
func ExampleNewScan() {
	var angles, counts []float64
	for i := range 50 {
		angles, counts = append(angles, 10+0.02*float64(i)), append(counts, float64(100+i%7))
	}
	scan, err := xrd.NewScan(angles, counts, nil, xrd.ScanInfo{Sample: "invented"})
	fmt.Println(scan.Len(), scan.EvenSteps(), scan.Counts(), err)
	angles[7] = angles[6]
	_, err = xrd.NewScan(angles, counts, nil, xrd.ScanInfo{})
	fmt.Println(err)
	// Output:
	// 50 true true <nil>
	// point 8: angles do not ascend: 10.12 after 10.12
}

func ExampleSyntaxError() {
	err := &xrd.SyntaxError{File: "bushing.xy", Line: 2, Err: errors.New("expected angle and intensity"), Fix: "remove the line or start it with #"}
	fmt.Println(err)
	// Output: bushing.xy:2: expected angle and intensity; remove the line or start it with #
}

func TestSyntaxErrorOfAWholeFile(t *testing.T) {
	cause := errors.New("empty")
	err := &xrd.SyntaxError{File: "a.xy", Err: cause, Fix: "scan again"}
	assert.EqualError(t, err, "a.xy: empty; scan again")
	assert.ErrorIs(t, err, cause)
}

func TestNewScanRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, c := range map[string]struct {
		change func(angles, counts, sigma []float64) ([]float64, []float64, []float64)
		want   error
	}{
		"lengths":         {func(a, c, s []float64) ([]float64, []float64, []float64) { return a, c[1:], s }, xrd.ErrLengths},
		"lengths of σ":    {func(a, c, s []float64) ([]float64, []float64, []float64) { return a, c, s[1:] }, xrd.ErrLengths},
		"nothing":         {func(a, c, s []float64) ([]float64, []float64, []float64) { return nil, nil, nil }, xrd.ErrTooFewPoints},
		"19 points":       {func(a, c, s []float64) ([]float64, []float64, []float64) { return a[:19], c[:19], s[:19] }, xrd.ErrTooFewPoints},
		"angle NaN":       {func(a, c, s []float64) ([]float64, []float64, []float64) { a[3] = nan; return a, c, s }, xrd.ErrNotFinite},
		"count infinite":  {func(a, c, s []float64) ([]float64, []float64, []float64) { c[3] = inf; return a, c, s }, xrd.ErrNotFinite},
		"opposite infs":   {func(a, c, s []float64) ([]float64, []float64, []float64) { a[3], c[3] = inf, -inf; return a, c, s }, xrd.ErrNotFinite},
		"negative angle":  {func(a, c, s []float64) ([]float64, []float64, []float64) { a[0] = -1; return a, c, s }, xrd.ErrAngleRange},
		"angle above 180": {func(a, c, s []float64) ([]float64, []float64, []float64) { a[29] = 181; return a, c, s }, xrd.ErrAngleRange},
		"repeated":        {func(a, c, s []float64) ([]float64, []float64, []float64) { a[4] = a[3]; return a, c, s }, xrd.ErrNotAscending},
		"descending":      {func(a, c, s []float64) ([]float64, []float64, []float64) { slices.Reverse(a); return a, c, s }, xrd.ErrNotAscending},
		"σ zero":          {func(a, c, s []float64) ([]float64, []float64, []float64) { s[2] = 0; return a, c, s }, xrd.ErrBadUncertain},
		"σ tiny":          {func(a, c, s []float64) ([]float64, []float64, []float64) { s[2] = 1e-300; return a, c, s }, xrd.ErrBadUncertain},
		"σ NaN":           {func(a, c, s []float64) ([]float64, []float64, []float64) { s[2] = nan; return a, c, s }, xrd.ErrBadUncertain},
		"σ infinite":      {func(a, c, s []float64) ([]float64, []float64, []float64) { s[2] = inf; return a, c, s }, xrd.ErrBadUncertain},
		"all zero":        {func(a, c, s []float64) ([]float64, []float64, []float64) { clear(c); return a, c, s }, xrd.ErrNoIntensity},
	} {
		a, c2 := columns(30)
		s := slices.Repeat([]float64{2}, 30)
		_, err := xrd.NewScan(a, c2, s, xrd.ScanInfo{})
		require.NoError(t, err)
		a, c2, s = c.change(a, c2, s)
		_, err = xrd.NewScan(a, c2, s, xrd.ScanInfo{})
		assert.ErrorIs(t, err, c.want, name)
	}
}

// Calculated intensities in the place of uncertainties are refused; what was counted is not, whether in counts or rates, few or many, nor are
// uncertainties that a monitor or a relative error adds to.
func TestASecondCurveIsNoUncertainty(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 5))
	var x, calculated []float64
	for i := range 2000 {
		at := 20 + 0.02*float64(i)
		x = append(x, at)
		calculated = append(calculated, 1+60*xrd.PseudoVoigt(at-30, 0.1, 0.5)+20*xrd.PseudoVoigt(at-44, 0.12, 0.5))
	}
	for _, counts := range []float64{1, 10, 1000} {
		var y []float64
		for _, v := range calculated {
			y = append(y, distuv.Poisson{Lambda: counts * v, Src: rnd}.Rand())
		}
		with := func(u func(i int) float64) error {
			var sigma []float64
			for i := range y {
				sigma = append(sigma, u(i))
			}
			_, err := xrd.NewScan(x, y, sigma, xrd.ScanInfo{})
			return err
		}
		require.ErrorIs(t, with(func(i int) float64 { return counts * calculated[i] }), xrd.ErrSecondCurve, "%g", counts)
		assert.NoError(t, with(func(i int) float64 { return math.Sqrt(max(1, y[i])) }), "%g", counts)
		assert.NoError(t, with(func(i int) float64 { return math.Hypot(math.Sqrt(max(1, y[i])), 0.1*y[i]) }), "%g", counts)
	}
}

func TestNewScanCopies(t *testing.T) {
	a, c := columns(30)
	scan, err := xrd.NewScan(a, c, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	a[0], c[0] = 99, 99
	assert.Equal(t, []float64{10, 100}, []float64{scan.TwoTheta[0], scan.Intensity[0]})
}

func TestScanKnowsItsSteps(t *testing.T) {
	a, c := columns(40)
	scan, err := xrd.NewScan(a, c, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	assert.InDelta(t, 0.02, scan.Step(), 1e-12)
	assert.True(t, scan.EvenSteps())
	lo, hi := scan.Range()
	assert.Equal(t, []float64{a[0], a[39]}, []float64{lo, hi})
	a[39] += 0.01
	scan, err = xrd.NewScan(a, c, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	assert.False(t, scan.EvenSteps())
}

func TestScanCounts(t *testing.T) {
	a, c := columns(30)
	for name, want := range map[string]bool{"raw": true, "half": false, "negative": false, "σ": false} {
		y := slices.Clone(c)
		var sigma []float64
		switch name {
		case "half":
			y[3] = 0.5
		case "negative":
			y[3] = -1
		case "σ":
			sigma = slices.Repeat([]float64{1}, 30)
		}
		scan, err := xrd.NewScan(a, y, sigma, xrd.ScanInfo{})
		require.NoError(t, err)
		assert.Equal(t, want, scan.Counts(), name)
	}
}

func TestScanBetweenAndCrop(t *testing.T) {
	a, c := columns(100)
	scan, err := xrd.NewScan(a, c, slices.Repeat([]float64{1}, 100), xrd.ScanInfo{Sample: "x"})
	require.NoError(t, err)
	i, j := scan.Between(a[10], a[40])
	assert.Equal(t, []int{10, 41}, []int{i, j}, "both ends belong")
	for _, ends := range [][2]float64{{50, 40}, {0, 5}, {170, 175}, {math.NaN(), 11}} {
		i, j = scan.Between(ends[0], ends[1])
		assert.True(t, 0 <= i && i <= j && j <= 100, "%v gives %d, %d", ends, i, j)
	}
	part, err := scan.Crop(a[10], a[40])
	require.NoError(t, err)
	assert.Equal(t, 31, part.Len())
	assert.Equal(t, a[10:41], part.TwoTheta)
	assert.Equal(t, c[10:41], part.Intensity)
	assert.Len(t, part.Sigma, 31)
	assert.Equal(t, "x", part.About.Sample)
	assert.Equal(t, 31, cap(part.TwoTheta), "appending must not reach the parent")
	_, err = scan.Crop(a[10], a[20])
	assert.ErrorIs(t, err, xrd.ErrTooFewPoints)
}

// Some goniometers begin at 0°, and some exports go on to 180°, where no plane diffracts.
func TestDiffracting(t *testing.T) {
	var x, y []float64
	for i := range 181 {
		x, y = append(x, float64(i)), append(y, 5)
	}
	scan, err := xrd.NewScan(x, y, y, xrd.ScanInfo{Sample: "a"})
	require.NoError(t, err)
	got, err := scan.Diffracting()
	require.NoError(t, err)
	lo, hi := got.Range()
	assert.Equal(t, []float64{1, 179}, []float64{lo, hi})
	assert.Len(t, got.Sigma, 179)
	scan, err = xrd.NewScan(x[:20], y[:20], nil, xrd.ScanInfo{})
	require.NoError(t, err)
	_, err = scan.Diffracting()
	assert.ErrorIs(t, err, xrd.ErrTooFewPoints)
}
