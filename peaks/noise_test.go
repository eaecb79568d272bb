package peaks_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// Counts are known as counts; the same divided by their time as what they are, by their scatter.
func ExampleMeasureNoise() {
	var angles, counts, rates []float64
	random := rand.New(rand.NewPCG(1, 1))
	for i := range 500 {
		n := math.Round(100 + 10*random.NormFloat64()) // as counts of 100 scatter
		angles, counts, rates = append(angles, 20+0.02*float64(i)), append(counts, n), append(rates, n/8)
	}
	for _, intensities := range [][]float64{counts, rates} {
		scan, err := xrd.NewScan(angles, intensities, nil, xrd.ScanInfo{})
		if err != nil {
			fmt.Println(err)
			return
		}
		noise := peaks.MeasureNoise(scan)
		fmt.Printf("%s: variance over mean %.2f\n", noise.Kind, noise.Gain)
	}
	// Output:
	// poisson: variance over mean 1.00
	// estimated: variance over mean 0.11
}

func TestMeasureNoiseOfCounts(t *testing.T) {
	for _, level := range []float64{0.2, 1, 5, 100, 1e4, 1e6} {
		p := ordinary()
		p.Background = airAndHalo(level)
		for i := range p.Lines {
			p.Lines[i].Area *= level / 50
		}
		m := peaks.MeasureNoise(p.Scan(t, 1))
		assert.Equal(t, peaks.Poisson, m.Kind, "level %g: %+v", level, m)
		assert.InDelta(t, 1, m.Scatter, 0.12, "variance over mean at level %g", level)
	}
}

func TestMeasureNoiseOfScaledCounts(t *testing.T) {
	raw := ordinary().Scan(t, 1)
	for _, factor := range []float64{0.01, 0.4, 3, 1000} {
		m := peaks.MeasureNoise(remade(t, raw, func(_ int, y float64) float64 { return factor * y }))
		assert.Equal(t, peaks.Estimated, m.Kind, "factor %g", factor)
		assert.InEpsilon(t, factor*factor*50, m.Variance(factor*50), 0.12, "variance of the background, factor %g", factor)
	}
}

func TestMeasureNoiseOfSubtractedBackground(t *testing.T) {
	p := ordinary()
	net := remade(t, p.Scan(t, 1), func(_ int, y float64) float64 { return y - 50 })
	m := peaks.MeasureNoise(net)
	assert.Equal(t, peaks.Estimated, m.Kind)
	assert.InEpsilon(t, 50, m.Variance(0), 0.15, "what was subtracted still scatters")
}

// TestMeasureNoiseOfSmoothedCounts: a running mean of seven hides the noise from neighbours; the estimate must be that of
// sums over many points, which smoothing does not change.
func TestMeasureNoiseOfSmoothedCounts(t *testing.T) {
	raw := ordinary().Scan(t, 1)
	m := peaks.MeasureNoise(remade(t, raw, smooth(raw, 3)))
	assert.Equal(t, peaks.Estimated, m.Kind)
	assert.Greater(t, m.Correlation, 0.2)
	assert.InEpsilon(t, 50, m.Variance(50), 0.3)
}

func TestMeasureNoiseBelievesAThirdColumn(t *testing.T) {
	raw := ordinary().Scan(t, 1)
	sigma := make([]float64, raw.Len())
	rnd := rand.New(rand.NewPCG(1, 1))
	y := make([]float64, raw.Len())
	expected := ordinary().Expected(raw.TwoTheta)
	for i := range sigma {
		sigma[i] = 4 + 0.02*expected[i]
		y[i] = expected[i] + sigma[i]*rnd.NormFloat64()
	}
	scan, err := xrd.NewScan(raw.TwoTheta, y, sigma, xrd.ScanInfo{})
	require.NoError(t, err)
	f := peaks.Find(scan, copper, peaks.Settings{})
	assert.Equal(t, peaks.Recorded, f.Noise.Kind)
	assert.InDeltaSlice(t, sigma, f.Sigma, 1e-9)
	require.Len(t, f.Peaks, 8)
	assert.NotContains(t, codes(f), "not-counts")
}

func TestVarianceIsPositive(t *testing.T) {
	for _, m := range []peaks.NoiseModel{{Gain: 1}, {Gain: 0.1, Floor: 3}, {Gain: 1e-9}} {
		for _, mean := range []float64{-1e6, 0, 1e-300, 1} {
			assert.Greater(t, m.Variance(mean), 0.0)
		}
	}
}

// TestBackgroundIsUnbiased compares with what was put in: halo, air scatter and lines, from 5 to 10⁵ counts.
func TestBackgroundIsUnbiased(t *testing.T) {
	for _, level := range []float64{5, 20, 2000, 1e5} {
		p := xrdtest.Pattern{Lo: 8, Hi: 110, Step: 0.02, Background: airAndHalo(level)}
		for _, l := range xrdtest.Spread(1, 30, 30, 100, 0.5+math.Sqrt(level), 10+10*math.Sqrt(level)) {
			l.Eta = 0 // no tails that would belong to the background
			p.Lines = append(p.Lines, l)
		}
		scan := p.Scan(t, 3)
		f := peaks.Find(scan, copper, peaks.Settings{})
		var sum, truth, worst float64
		for i, at := range scan.TwoTheta {
			want := p.Background(at)
			sum, truth = sum+f.Background[i], truth+want
			if at > 9 && at < 109 {
				worst = math.Max(worst, math.Abs(f.Background[i]-want)/(math.Sqrt(want)+0.005*want))
			}
		}
		assert.InDelta(t, 1, sum/truth, 0.01+0.5/math.Sqrt(truth), "level %g", level)
		assert.Less(t, worst, 0.6, "worst deviation in standard uncertainties of a point, level %g", level)
	}
}

func BenchmarkBackground(b *testing.B) {
	p := xrdtest.Pattern{Lo: 5, Hi: 150, Step: 0.02, Lines: xrdtest.Spread(1, 60, 15, 148, 5, 5000), Background: airAndHalo(100)}
	scan := p.Scan(b, 1)
	noise := peaks.MeasureNoise(scan)
	for b.Loop() {
		peaks.Background(scan, noise, copper.KAlpha1)
	}
}

// TestGainOfRates: counts per second scatter by 1/t of their mean, and nothing remains at zero.
func TestGainOfRates(t *testing.T) {
	for _, seconds := range []float64{0.3, 7.3} {
		for seed := range uint64(5) {
			p := xrdtest.Pattern{Lo: 10, Hi: 100, Step: 0.02, Background: airAndHalo(40), Lines: xrdtest.Spread(seed, 30, 12, 98, 1, 300)}
			raw := p.Scan(t, seed)
			m := peaks.MeasureNoise(remade(t, raw, func(_ int, y float64) float64 { return y / seconds }))
			assert.Equal(t, peaks.Estimated, m.Kind)
			assert.InEpsilon(t, 1/seconds, m.Gain, 0.12, "%g s, seed %d", seconds, seed)
			assert.Less(t, m.Floor, 1e-3*m.Variance(40/seconds))
			// Less a constant, the scatter of the constant stays.
			m = peaks.MeasureNoise(remade(t, raw, func(_ int, y float64) float64 { return y - 30 }))
			assert.InEpsilon(t, 40, m.Variance(10), 0.25, "40 counts were measured where 10 are left")
		}
	}
}

// counted draws counts of a detector whose variance is gain times the mean, rounded to whole numbers or not.
func counted(t testing.TB, p xrdtest.Pattern, gain float64, whole bool, seed uint64) xrd.Scan {
	t.Helper()
	x := p.Angles()
	y := make([]float64, len(x))
	source := rand.NewPCG(seed, 77)
	for i, m := range p.Expected(x) {
		y[i] = gain * distuv.Poisson{Lambda: m / gain, Src: source}.Rand()
		if whole {
			y[i] = math.Round(y[i])
		}
	}
	scan, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
	require.NoError(t, err)
	return scan
}

// crowd is a scan of thirty doublets of one width, from a tenth to thirty times as high as the background.
func crowd(step, width, level float64, seed uint64) xrdtest.Pattern {
	p := xrdtest.Pattern{Lo: 5, Hi: 70, Step: step, Background: func(x float64) float64 { return level * (0.7 + 6/x) }}
	rnd := rand.New(rand.NewPCG(seed, 3))
	for range 30 {
		at := 8 + 60*rnd.Float64()
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: level * width * math.Pow(10, -1+2.5*rnd.Float64()), FWHM: width, Eta: 0.4})
	}
	return p
}

// TestNoiseIsThatOfTheDetector: whatever gain, step and width, peaks do not count as noise. A third of the blocks of a scan, each known
// to 0.8 of itself, gives the variance to 0.15 with steps of 0.1° and to 0.05 with steps of 0.01°; four of these, and a tenth to a third for
// feet of lines, are allowed. Where neither a flat stretch nor whole numbers tell (lines of 1° in steps of 0.05° and more), nothing is claimed here:
// Find corrects it by what its fit leaves.
func TestNoiseIsThatOfTheDetector(t *testing.T) {
	for _, gain := range []float64{0.1, 0.5, 1, 3, 20, 100} {
		for _, step := range []float64{0.01, 0.02, 0.05, 0.1} {
			for _, width := range []float64{0.05, 0.1, 0.3, 1} {
				for seed := range uint64(2) {
					level := []float64{40, 1000}[seed] * max(1, gain/3)
					whole := seed == 0 || gain >= 0.5
					if width == 1 && step > 0.02 && (!whole || gain < 0.5) {
						continue
					}
					if gain == 0.5 && step == 0.1 { // 650 points cannot tell 0.5 from the 1 of counts with certainty
						continue
					}
					m := peaks.MeasureNoise(counted(t, crowd(step, width, level, seed), gain, whole, seed))
					truth := gain * level
					if whole && gain < 1 {
						truth += 1. / 12 // rounding
					}
					blocks := 65 / step / 8 / 3
					off := 4*0.8/math.Sqrt(blocks) + 0.1 + 2*step
					assert.InDelta(t, 1, m.Variance(level)/truth, off, "gain %g, step %g°, width %g°, seed %d: %+v", gain, step, width, seed, m)
				}
			}
		}
	}
}

// TestNoiseIsCheckedAgainstTheFit: lines of 1° that stand everywhere look like smoothed noise, a hundred times too strong and more; what
// their fit leaves says otherwise.
func TestNoiseIsCheckedAgainstTheFit(t *testing.T) {
	worst := 0.0
	for seed := range uint64(4) {
		scan := counted(t, crowd(0.05, 1, 1000, seed), 0.1, false, seed)
		worst = math.Max(worst, peaks.MeasureNoise(scan).Variance(1000)/100)
		f := peaks.Find(scan, copper, peaks.Settings{})
		assert.Less(t, f.Noise.Variance(1000)/100, 10.0, "seed %d: %+v", seed, f.Noise)
		assert.Greater(t, f.Noise.Variance(1000)/100, 0.5, "seed %d: %+v", seed, f.Noise)
		assert.Greater(t, len(f.Peaks), 8)
	}
	assert.Greater(t, worst, 100.0, "nothing was to be corrected")
}
