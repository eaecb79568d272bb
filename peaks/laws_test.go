package peaks_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// recorded is a counted scan with its uncertainties in a third column, all intensities multiplied and raised.
func recorded(t testing.TB, by, raised float64) xrd.Scan {
	t.Helper()
	s := ordinary().Scan(t, 3)
	y, u := make([]float64, s.Len()), make([]float64, s.Len())
	for i, v := range s.Intensity {
		y[i], u[i] = by*v+raised, by*math.Sqrt(math.Max(1, v))
	}
	out, err := xrd.NewScan(s.TwoTheta, y, u, s.About)
	require.NoError(t, err)
	return out
}

// The unit of intensities is of no matter where uncertainties are recorded: places, widths and significances stay, areas and heights are in the unit.
func TestUnitOfIntensities(t *testing.T) {
	one := peaks.Find(recorded(t, 1, 0), copper, peaks.Settings{})
	require.GreaterOrEqual(t, len(one.Peaks), 7)
	for _, by := range []float64{0.001, 7, 1e5} {
		other := peaks.Find(recorded(t, by, 0), copper, peaks.Settings{})
		require.Len(t, other.Peaks, len(one.Peaks), "× %g", by)
		for k, p := range one.Peaks {
			q := other.Peaks[k]
			assert.InDelta(t, p.TwoTheta, q.TwoTheta, 0.1*p.TwoThetaU)
			assert.InEpsilon(t, p.FWHM, q.FWHM, 0.02)
			assert.InDelta(t, by*p.Area, q.Area, 0.5*by*p.AreaU)
			assert.InEpsilon(t, by*p.AreaU, q.AreaU, 0.05)
			assert.InEpsilon(t, by*p.Height, q.Height, 0.02)
			assert.InEpsilon(t, p.Significance, q.Significance, 0.02)
		}
	}
}

// What lies under everything changes no peak where uncertainties are recorded, and is told as background.
func TestLevelUnderThePeaks(t *testing.T) {
	one := peaks.Find(recorded(t, 1, 0), copper, peaks.Settings{})
	raised := peaks.Find(recorded(t, 1, 40), copper, peaks.Settings{})
	require.Len(t, raised.Peaks, len(one.Peaks))
	for k, p := range one.Peaks {
		assert.InDelta(t, p.TwoTheta, raised.Peaks[k].TwoTheta, 0.3*p.TwoThetaU)
		assert.InDelta(t, p.Area, raised.Peaks[k].Area, 0.3*p.AreaU)
	}
	mid := len(one.Background) / 2
	assert.InDelta(t, one.Background[mid]+40, raised.Background[mid], 2)
}

// What is said of a peak belongs together: its spacing is that of its angle by Bragg's law, its height that of the fitted curve over the background, the
// areas make up the curve, the breadth lies between those of a Gaussian and a Lorentzian of its width, and all are above the threshold, in order.
func TestWhatIsSaidOfAPeak(t *testing.T) {
	scan := ordinary().Scan(t, 5)
	f := peaks.Find(scan, copper, peaks.Settings{})
	require.NotEmpty(t, f.Peaks)
	var areas, curve float64
	for i := 1; i < scan.Len(); i++ {
		curve += (f.Fitted[i] - f.Background[i]) * (scan.TwoTheta[i] - scan.TwoTheta[i-1])
		assert.Greater(t, f.Sigma[i], 0.0)
	}
	for k, p := range f.Peaks {
		areas += p.Area
		d := copper.KAlpha1 / 2 / math.Sin(p.TwoTheta*math.Pi/360)
		assert.InEpsilon(t, d, p.D, 1e-9)
		i, _ := scan.Between(p.TwoTheta, p.TwoTheta+1)
		w := (p.TwoTheta - scan.TwoTheta[i-1]) / (scan.TwoTheta[i] - scan.TwoTheta[i-1])
		net := (1-w)*(f.Fitted[i-1]-f.Background[i-1]) + w*(f.Fitted[i]-f.Background[i])
		assert.InEpsilon(t, p.Height, net, 0.05, "between two points the curve bends")
		gauss, lorentz := p.FWHM*math.Sqrt(math.Pi/math.Ln2)/2, p.FWHM*math.Pi/2 // by definition
		assert.True(t, p.IntegralBreadth >= gauss*(1-1e-9) && p.IntegralBreadth <= lorentz*(1+1e-9), "%g of %g to %g", p.IntegralBreadth, gauss, lorentz)
		assert.GreaterOrEqual(t, p.Significance, f.Threshold)
		assert.True(t, p.TwoThetaU > 0 && p.AreaU > 0 && p.HeightU > 0 && p.FWHMU >= 0 && p.IntegralBreadthU >= 0)
		assert.True(t, math.Abs(p.AreaFWHM) <= 1 && math.Abs(p.Overlap) <= 1 && p.Eta >= 0 && p.Eta <= 1)
		assert.True(t, k == 0 || f.Peaks[k-1].TwoTheta < p.TwoTheta)
		assert.Equal(t, p.Kind == peaks.KAlpha, p.Of == -1)
	}
	assert.InEpsilon(t, curve, areas, 0.01)
}

// Standard uncertainties are what they say: over counted scans, places and areas scatter about the truth by one of them, and not to one side.
func TestUncertaintiesHold(t *testing.T) {
	p := ordinary()
	var places, areas []float64
	for seed := range uint64(16) {
		f := peaks.Find(p.Scan(t, 100+seed), copper, peaks.Settings{})
		for _, l := range p.Lines {
			k := slices.IndexFunc(f.Peaks, func(q peaks.Peak) bool { return math.Abs(q.TwoTheta-l.TwoTheta) < 0.05 })
			require.GreaterOrEqual(t, k, 0, "%g°", l.TwoTheta)
			q := f.Peaks[k]
			places, areas = append(places, (q.TwoTheta-l.TwoTheta)/q.TwoThetaU), append(areas, (q.Area-l.Area)/q.AreaU)
		}
	}
	n := math.Sqrt(float64(len(places)))
	for what, pulls := range map[string][]float64{"places": places, "areas": areas} {
		mean, deviation := stat.MeanStdDev(pulls, nil)
		assert.InDelta(t, 0, mean, 5/n, "%s: mean %.2f of %d", what, mean, len(pulls))
		assert.InDelta(t, 1, deviation, 0.3, "%s: %.2f of %d", what, deviation, len(pulls))
	}
}

// What is asked for is kept: more false alarms lower the threshold and lose no peak that stood, a number of peaks is not exceeded and the strongest are
// taken, and numbers that mean nothing are the default.
func TestSettingsAreKept(t *testing.T) {
	scan := ordinary().Scan(t, 8)
	usual := peaks.Find(scan, copper, peaks.Settings{})
	many := peaks.Find(scan, copper, peaks.Settings{FalseAlarms: 5})
	assert.Less(t, many.Threshold, usual.Threshold)
	assert.GreaterOrEqual(t, len(many.Peaks), len(usual.Peaks))
	strict := peaks.Find(scan, copper, peaks.Settings{FalseAlarms: 1e-6})
	assert.Greater(t, strict.Threshold, usual.Threshold)
	for _, odd := range []float64{math.NaN(), -1, 0, 1e-300} {
		assert.InDelta(t, usual.Threshold, peaks.Find(scan, copper, peaks.Settings{FalseAlarms: odd}).Threshold, 1e-9, "%g", odd)
	}
	few := peaks.Find(scan, copper, peaks.Settings{MaxPeaks: 3})
	assert.LessOrEqual(t, len(few.Peaks), 3)
	strongest := 0.0
	for _, p := range usual.Peaks {
		strongest = math.Max(strongest, p.Area)
	}
	assert.True(t, slices.ContainsFunc(few.Peaks, func(p peaks.Peak) bool { return math.Abs(p.Area-strongest) < 0.1*strongest }))
	assert.Len(t, peaks.Find(scan, copper, peaks.Settings{MaxPeaks: -5}).Peaks, len(usual.Peaks))
}

// A strict monochromator gives one line where a tube gives two: the same area is found either way, and Kα2 is not taken for a peak of its own.
func TestOneWavelengthOrTwo(t *testing.T) {
	single := xrd.Radiation{KAlpha1: copper.KAlpha1}
	for _, r := range []xrd.Radiation{single, copper} {
		p := ordinary()
		p.Radiation = r
		f := peaks.Find(p.Scan(t, 2), r, peaks.Settings{})
		require.Len(t, f.Peaks, len(p.Lines))
		for k, l := range p.Lines {
			assert.InDelta(t, l.Area, f.Peaks[k].Area, 5*f.Peaks[k].AreaU, "%g°", l.TwoTheta)
			assert.InDelta(t, l.TwoTheta, f.Peaks[k].TwoTheta, 5*f.Peaks[k].TwoThetaU+1e-4)
		}
	}
}

// The lower hull is the greatest convex curve that is nowhere above the points: below them, met at the ends, its slopes rising, unchanged when taken
// again, and moved with what it is of.
func TestLowerHull(t *testing.T) {
	assert.InDeltaSlice(t, []float64{3, 2, 1, 1.5, 2}, peaks.LowerHull([]float64{0, 1, 2, 3, 4}, []float64{3, 4, 1, 9, 2}), 1e-12, "by hand: straight lines from 3 to 1 and from 1 to 2")
	rnd := rand.New(rand.NewPCG(6, 6))
	for range 100 {
		n := 3 + rnd.IntN(60)
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i] = float64(i)+0.5*rnd.Float64(), 10*rnd.NormFloat64()
		}
		h := peaks.LowerHull(x, y)
		require.Len(t, h, n)
		assert.InDelta(t, y[0], h[0], 1e-9)
		assert.InDelta(t, y[n-1], h[n-1], 1e-9)
		last := math.Inf(-1)
		for i := range h {
			assert.LessOrEqual(t, h[i], y[i]+1e-9)
			if i > 0 {
				slope := (h[i] - h[i-1]) / (x[i] - x[i-1])
				assert.GreaterOrEqual(t, slope, last-1e-9)
				last = slope
			}
			greatest := math.Inf(1) // by definition: the least of all chords over the point
			for a := 0; a <= i; a++ {
				for b := i; b < n; b++ {
					chord := y[a]
					if b > a {
						chord += (y[b] - y[a]) * (x[i] - x[a]) / (x[b] - x[a])
					}
					if a == b {
						chord = y[i]
					}
					greatest = math.Min(greatest, chord)
				}
			}
			assert.InDelta(t, greatest, h[i], 1e-6)
		}
		assert.InDeltaSlice(t, h, peaks.LowerHull(x, h), 1e-9)
		moved := make([]float64, n)
		for i := range y {
			moved[i] = 3*y[i] + 2*x[i] - 7
		}
		for i, v := range peaks.LowerHull(x, moved) {
			assert.InDelta(t, 3*h[i]+2*x[i]-7, v, 1e-6)
		}
	}
}

// Rates are counts over their time: the noise is that many times smaller than of counts, and told as estimated.
func TestNoiseOfRates(t *testing.T) {
	s := ordinary().Scan(t, 11)
	counts := peaks.MeasureNoise(s)
	assert.Equal(t, peaks.Poisson, counts.Kind)
	assert.InDelta(t, 1, counts.Scatter, 0.15)
	for _, seconds := range []float64{0.5, 4, 30} {
		rates := make([]float64, s.Len())
		for i, v := range s.Intensity {
			rates[i] = v / seconds
		}
		scan, err := xrd.NewScan(s.TwoTheta, rates, nil, s.About)
		require.NoError(t, err)
		m := peaks.MeasureNoise(scan)
		if scan.Counts() { // half a second makes whole numbers, twice as large
			assert.Equal(t, peaks.Estimated, m.Kind)
		}
		level := 50 / seconds
		assert.InEpsilon(t, level/seconds, m.Variance(level), 0.3, "%g s: %g counts in a point", seconds, 50.0)
	}
	for _, m := range []peaks.NoiseModel{{Gain: 1}, {Gain: 0.2, Floor: 3}} {
		assert.InDelta(t, m.Gain*200+m.Floor, m.Variance(200), 1e-12)
		assert.Greater(t, m.Variance(0), 0.0)
		assert.Equal(t, m.Variance(0), m.Variance(-50), "below nothing is nothing")
	}
}

// Widths of a given instrument are those of the curve, at every angle of the scan.
func TestWidthsOfAGivenInstrument(t *testing.T) {
	in := xrd.DefaultInstrument()
	p := xrdtest.Pattern{Lo: 20, Hi: 120, Step: 0.01, Background: flat(50)}
	for at := 25.0; at < 118; at += 9 {
		fwhm, eta := xrd.ThompsonCoxHastings(in.GaussianFWHM(at), in.LorentzianFWHM(at))
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 800, FWHM: fwhm, Eta: eta})
	}
	f := peaks.Find(p.Scan(t, 4), copper, peaks.Settings{Instrument: &in})
	assert.Zero(t, f.Width.Peaks, "it was given")
	for at := 22.0; at < 118; at += 8 {
		assert.InEpsilon(t, in.FWHM(at), f.Width.At(at), 0.03, "%g°", at)
	}
	require.Len(t, f.Peaks, len(p.Lines))
	for k, l := range p.Lines {
		assert.InDelta(t, l.Area, f.Peaks[k].Area, 6*f.Peaks[k].AreaU)
	}
	free := peaks.Find(p.Scan(t, 4), copper, peaks.Settings{})
	assert.Positive(t, free.Width.Peaks, "it was found in the scan")
	for at := 30.0; at < 110; at += 8 {
		assert.InEpsilon(t, in.FWHM(at), free.Width.At(at), 0.1, "%g°", at)
	}
}

// Recorded uncertainties say what the gain is: 1 of counts, one over the seconds of counts per second, and a floor alone where the background was taken
// away.
func TestNoiseOfAThirdColumn(t *testing.T) {
	for by, gain := range map[float64]float64{1: 1, 0.25: 0.25, 1000: 1000} {
		m := peaks.MeasureNoise(recorded(t, by, 0))
		assert.Equal(t, peaks.Recorded, m.Kind)
		assert.InEpsilon(t, gain, m.Gain, 1e-9)
		assert.Zero(t, m.Floor)
	}
	m := peaks.MeasureNoise(recorded(t, 1, -50))
	assert.Zero(t, m.Gain)
	assert.InEpsilon(t, 50, m.Variance(0), 0.1, "counts of 50, less 50")
	assert.InEpsilon(t, 50, m.Variance(20), 0.1)
}
