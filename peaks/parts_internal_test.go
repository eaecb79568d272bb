package peaks

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd"
)

// Kα2 lies where Bragg's law sends its wavelength, and moves with Kα1 as the derivative says; where no angle is left for it, it is not there.
func TestGapByBragg(t *testing.T) {
	for at := 5.0; at < 160; at += 3.7 {
		gap, slope, ok := copperTube.gap(at)
		require.True(t, ok)
		d := copperTube.one / 2 / math.Sin(at*math.Pi/360)
		assert.InDelta(t, 2*math.Asin(copperTube.two/2/d)*180/math.Pi, at+gap, 1e-9)
		const h = 1e-4
		up, _, _ := copperTube.gap(at + h)
		down, _, _ := copperTube.gap(at - h)
		assert.InEpsilon(t, 1+(up-down)/(2*h), slope, 1e-5, "%g°", at)
	}
	_, _, ok := copperTube.gap(179)
	assert.False(t, ok)
	single := newDoublet(xrd.Radiation{KAlpha1: 1.54})
	_, _, ok = single.gap(40)
	assert.False(t, ok)
	assert.Equal(t, 1.0, single.share)
	assert.InDelta(t, 2.0/3, newDoublet(xrd.Radiation{KAlpha1: 1.54, KAlpha2: 1.544, Ratio: 0.5}).share, 1e-12)
	assert.Equal(t, 1.0, newDoublet(xrd.Radiation{KAlpha1: 1.54, KAlpha2: 1.53, Ratio: 0.5}).share, "a second line that is shorter is none")
}

// A shape has unit area with and without a tail; the tail moves its centre down by a third of its length (rays that leave the plane by h are found too
// low by h² of it: the mean of h² from 0 to 1), and up beyond 90°.
func TestTailOfAShape(t *testing.T) {
	single := newDoublet(xrd.Radiation{KAlpha1: 1.54})
	for _, at := range []float64{15, 30, 60, 120, 150} {
		for _, axial := range []float64{0, 0.02, 0.06} {
			s := single.shape(at, 0.08, 0, axial)
			var area, centre float64
			const step = 0.001
			for x := at - 1.5; x < at+1.5; x += step {
				v := s.value(x) * step
				area, centre = area+v, centre+v*(x-at)
			}
			assert.InDelta(t, 1, area, 1e-3, "%g°", at)
			assert.InDelta(t, -s.tail/3, centre/area, 2e-4, "%g° with %g", at, axial)
			assert.InDelta(t, axial/math.Tan(at*math.Pi/180), s.tail, 1e-12)
		}
	}
}

// An image is a peak where Bragg's law sends another wavelength of a stronger peak, no stronger than that can be: Kβ of copper, 1.39222 Å, of a line at
// 43.30° is at 2 asin(0.90369 sin 21.65°) = 38.95°, W Lα1, 1.47639 Å, at 2 asin(0.95833 sin 21.65°) = 41.41°. It is told of the strongest that it may be of, and has its spacing.
func TestImagesOfPeaks(t *testing.T) {
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	peak := func(at, area float64) Peak {
		return Peak{TwoTheta: at, TwoThetaU: 0.002, Area: area, AreaU: 0.01 * area, FWHM: 0.1, Kind: KAlpha, Of: -1, D: r.KAlpha1 / 2 / math.Sin(at*math.Pi/360)}
	}
	beta, ok := xrd.ImageTwoTheta(43.3, r.KAlpha1, r.KBeta)
	require.True(t, ok)
	assert.InDelta(t, 38.95, beta, 0.02)
	tungsten, ok := xrd.ImageTwoTheta(43.3, r.KAlpha1, xrd.WLAlpha)
	require.True(t, ok)
	assert.InDelta(t, 41.41, tungsten, 0.02)
	for _, c := range []struct {
		why  string
		peak Peak
		want Kind
	}{
		{"Kβ", peak(beta, 20), KBeta},
		{"W Lα1", peak(tungsten, 10), WLine},
		{"Kβ, a little off", peak(beta+0.028, 20), KBeta},
		{"beside it", peak(beta+0.07, 20), KAlpha},
		{"too strong for Kβ", peak(beta, 90), KAlpha},
		{"too strong for W", peak(tungsten, 40), KAlpha},
		{"no place of any", peak(40, 10), KAlpha},
	} {
		list := []Peak{c.peak, peak(43.3, 1000)}
		labelImages(list, r)
		assert.Equal(t, c.want, list[0].Kind, c.why)
		assert.Equal(t, KAlpha, list[1].Kind)
		if c.want == KAlpha {
			assert.Equal(t, -1, list[0].Of, c.why)
			continue
		}
		assert.Equal(t, 1, list[0].Of, c.why)
		assert.Equal(t, list[1].D, list[0].D, c.why)
	}
	near := []Peak{peak(beta, 20), peak(43.3, 1000), peak(43.31, 1200)}
	labelImages(near, r)
	assert.Equal(t, 2, near[0].Of, "of the strongest")
	r.KBeta = 0
	unknown := []Peak{peak(beta, 20), peak(43.3, 1000)}
	labelImages(unknown, r)
	assert.Equal(t, KAlpha, unknown[0].Kind, "no Kβ is known")
}

// Significances of few counts are those of the exact Poisson tail to a tenth or so: what chance exceeds as often in normal deviations.
func TestSignificanceOfFewCounts(t *testing.T) {
	normal := distuv.UnitNormal
	for _, c := range []struct{ mean, n float64 }{{2, 10}, {5, 15}, {10, 25}, {50, 85}, {100, 150}, {1000, 1160}} {
		tail := (distuv.Poisson{Lambda: c.mean}).Survival(c.n - 0.5)
		want := -normal.Quantile(tail)
		got := significance(c.n-c.mean, c.mean, c.mean)
		assert.InDelta(t, want, got, 0.25, "%g where %g are expected", c.n, c.mean)
		assert.Less(t, got, (c.n-c.mean)/math.Sqrt(c.mean), "counts are skew: less than the plain ratio")
	}
	assert.InDelta(t, -2, significance(-4, 4, 4), 1e-12, "what lacks is not skewed")
	assert.InDelta(t, 3, significance(6, 4, 0), 1e-12, "recorded uncertainties have no skewness")
}

// The places that noise can stand at are the range over the width; the threshold is exceeded that often by chance, and no lower than two deviations.
func TestPlacesAndThreshold(t *testing.T) {
	var x []float64
	for a := 20.0; a <= 60.001; a += 0.02 {
		x = append(x, a)
	}
	scan := xrd.Scan{TwoTheta: x, Intensity: make([]float64, len(x))}
	width := constantWidth(0.1, 0.5, 0.02)
	assert.InEpsilon(t, 400, looks(scan, width), 0.13, "40° of 0.1°; neighbouring blocks of eight steps share one")
	assert.InEpsilon(t, looks(scan, width)/2, looks(scan, constantWidth(0.2, 0.5, 0.02)), 1e-9)
	assert.InDelta(t, 2, threshold(1, 1e9), 1e-12)
	for _, alarms := range []float64{0.01, 0.1, 1} {
		z := threshold(400, alarms)
		rate := math.Sqrt(4*math.Ln2) / (2 * math.Pi) * math.Exp(-z*z/2) // Rice 1945
		assert.InEpsilon(t, alarms, rate*400, 1e-9)
	}
	assert.Equal(t, 0.05, Settings{FalseAlarms: math.NaN()}.orDefaults().FalseAlarms)
	assert.Equal(t, 10.0, Settings{FalseAlarms: 1e6}.orDefaults().FalseAlarms)
	assert.Equal(t, 400, Settings{MaxPeaks: -1}.orDefaults().MaxPeaks)
}

// A width curve takes as many terms as its peaks can bear: few or close ones give a constant, more one that grows with the angle.
func TestTermsOfAWidthCurve(t *testing.T) {
	truth := WidthCurve{U: 0.006, W: 0.005, Least: 0, Most: 9}
	some := func(n int, from, by float64) (out []start) {
		for k := range n {
			at := from + by*float64(k)
			out = append(out, start{at: at, fwhm: truth.At(at), eta: 0.3, score: 50})
		}
		return out
	}
	one := widthThrough(some(3, 30, 30), 0.02)
	assert.Zero(t, one.U)
	assert.InDelta(t, one.At(30), one.At(90), 1e-9, "three peaks give one width")
	two := widthThrough(some(5, 30, 20), 0.02)
	assert.InEpsilon(t, truth.At(40), two.At(40), 0.01)
	assert.InEpsilon(t, truth.At(100), two.At(100), 0.01)
	assert.Zero(t, two.V)
	close := widthThrough(some(5, 30, 1), 0.02)
	assert.InDelta(t, close.At(30), close.At(100), 1e-9, "close to each other they tell no slope")
	assert.Equal(t, 5, close.Peaks)
	assert.InDelta(t, 0.5, meanMixing(nil), 0)
	assert.InDelta(t, 0.25, meanMixing([]start{{eta: 0, score: 3}, {eta: 1, score: math.Sqrt(3)}}), 1e-12, "9 against 3")
}

// Opening takes away what is narrower than its window and keeps what is wider, in the middle of the noise; a constant and a straight line stay. Running
// quantiles are those of each neighbourhood, by definition.
func TestRunningCurves(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	y := make([]float64, 200)
	for i := range y {
		y[i] = 10 + rnd.Float64()
		if i >= 90 && i < 95 {
			y[i] += 50 // five points wide
		}
		if i >= 140 && i < 170 {
			y[i] += 30
		}
	}
	o := opened(y, 8)
	assert.InDelta(t, 10.5, o[92], 0.6, "a narrow one is gone")
	assert.InDelta(t, 40.5, o[155], 0.6, "a wide one stays")
	assert.InDelta(t, 10.5, o[50], 0.6)
	line := make([]float64, 100)
	for i := range line {
		line[i] = 3 + 0.5*float64(i)
	}
	for i, v := range opened(line, 6) {
		assert.InDelta(t, line[i], v, 0.51*2, "%d: to a step", i)
	}
	for _, half := range []int{1, 4, 9} {
		for _, share := range []float64{0, 0.25, 0.75, 1} {
			got := quantiles(y, half, share)
			for i := range y {
				window := slices.Sorted(slices.Values(y[max(0, i-half):min(len(y), i+half+1)]))
				require.Equal(t, window[int(share*float64(len(window)-1)+0.5)], got[i])
			}
		}
	}
	assert.Equal(t, []float64{3, 7}, sums([]float64{1, 2, 3, 4, 5}, 2))
	assert.InDelta(t, 2.5, mean([]float64{1, 2, 3, 4}), 1e-12)
	assert.InDelta(t, 3, median([]float64{9, 1, 3}), 1e-12)
	assert.Zero(t, median(nil))
	many := make([]float64, 10000)
	for i := range many {
		many[i] = float64(i)
	}
	assert.InDelta(t, 5000, median(sample(many)), 40, "a sample has the median of all")
	assert.Len(t, sample(y[:100]), 100)
}

// What few points say is left out, but never so many that the scan would be another.
func TestFewPoints(t *testing.T) {
	x := make([]float64, 1000)
	for i := range x {
		x[i] = 20 + 0.02*float64(i)
	}
	scan := xrd.Scan{TwoTheta: x, Intensity: make([]float64, len(x))}
	assert.Len(t, few([]int{1, 2, 3}, scan), 3)
	assert.Nil(t, few(make([]int, 500), scan), "half of the scan")
	assert.Equal(t, []bool{false, true, false, true}, maskOf([]int{1, 3}, 4))
	y := []float64{1, 9, 9, 4, 5}
	bridge([]float64{0, 1, 2, 3, 4}, y, []bool{false, true, true, false, false})
	assert.InDeltaSlice(t, []float64{1, 2, 3, 4, 5}, y, 1e-12, "straight over what is left out")
}
