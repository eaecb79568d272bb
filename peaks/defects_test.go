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

// truthful asserts that the peaks of a spoilt scan are those of the pattern, within their uncertainties.
func truthful(t *testing.T, p xrdtest.Pattern, f peaks.Found, what string) {
	t.Helper()
	require.Len(t, f.Peaks, len(p.Lines), what)
	for i, q := range f.Peaks {
		assert.InDelta(t, p.Lines[i].TwoTheta, q.TwoTheta, 4*q.TwoThetaU, what)
		assert.InDelta(t, p.Lines[i].Area, q.Area, 4*q.AreaU, "%s: line at %.1f°", what, q.TwoTheta)
	}
}

func TestDefectsAreLeftOut(t *testing.T) {
	p := ordinary()
	raw := p.Scan(t, 1)
	at := func(angle float64) int { i, _ := raw.Between(angle, 180); return i }
	set := func(value float64, points ...int) xrd.Scan {
		return remade(t, raw, func(i int, y float64) float64 {
			if slices.Contains(points, i) {
				return value
			}
			return y
		})
	}
	rising := slices.Repeat([]int{at(50)}, 12)
	for k := range rising {
		rising[k] += k
	}
	for what, c := range map[string]struct {
		scan xrd.Scan
		code string
		out  []int
	}{
		"one ray":                   {set(5000, 1000), "spikes", []int{1000}},
		"many rays":                 {set(3000, 300, 900, 2000, 2900, 3300, 4000, 5000), "spikes", []int{300, 900, 2000, 2900, 3300, 4000, 5000}},
		"dead channel":              {set(0, 200, at(37.03), 4000), "dropouts", []int{200, at(37.03), 4000}},
		"dead channels, neighbours": {set(0, 4000, 4001, 4002), "dropouts", []int{4000, 4001, 4002}},
		"beam gone":                 {set(0, rising...), "dropouts", rising},
	} {
		f := peaks.Find(c.scan, copper, peaks.Settings{})
		assert.Equal(t, []string{c.code}, codes(f), what)
		assert.Equal(t, c.out, f.LeftOut, what)
		truthful(t, p, f, what)
	}
}

// TestSaturatedTops: the areas of clipped lines come from their flanks, which say less but nothing wrong.
func TestSaturatedTops(t *testing.T) {
	p := ordinary()
	raw := p.Scan(t, 2)
	for _, level := range []float64{1800, 1100} {
		clipped := remade(t, raw, func(_ int, y float64) float64 { return math.Min(y, level) })
		f := peaks.Find(clipped, copper, peaks.Settings{})
		assert.Equal(t, []string{"saturation"}, codes(f), "at %g", level)
		truthful(t, p, f, "clipped")
		whole := peaks.Find(raw, copper, peaks.Settings{})
		assert.Greater(t, f.Peaks[0].AreaU, 1.2*whole.Peaks[0].AreaU, "a clipped line is known less well")
		for _, i := range f.LeftOut {
			assert.Equal(t, level, clipped.Intensity[i])
		}
	}
}

// TestSaturatedLow: a detector of eight bits ends at 255 counts, less than 20 standard uncertainties above nothing, on air scatter that is as
// high where the scan begins.
func TestSaturatedLow(t *testing.T) {
	p := ordinary()
	for _, level := range []float64{255, 150} {
		f := peaks.Find(remade(t, p.Scan(t, 2), func(i int, y float64) float64 {
			if i < 30 {
				return level
			}
			return math.Min(y, level)
		}), copper, peaks.Settings{})
		assert.Contains(t, codes(f), "saturation", "at %g", level)
	}
}

func TestDefectsAreNotSeenWhereThereAreNone(t *testing.T) {
	for seed := range uint64(40) {
		for _, level := range []float64{0.5, 20, 400, 2e4} {
			p := xrdtest.Pattern{Lo: 10, Hi: 90, Step: 0.02, Background: airAndHalo(level)}
			p.Lines = xrdtest.Spread(seed, 30, 12, 88, level*0.1, level*60)
			f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
			assert.Empty(t, f.LeftOut, "background %g, seed %d: %v", level, seed, codes(f))
		}
	}
}

// TestCoarseStepsHideNothing: where a line is a single point, points that stand up alone are lines, not rays.
func TestCoarseStepsHideNothing(t *testing.T) {
	p := ordinary()
	p.Step = 0.08
	for seed := range uint64(10) {
		f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
		assert.Contains(t, codes(f), "step-too-coarse")
		assert.NotContains(t, codes(f), "spikes", "seed %d", seed)
		require.Len(t, f.Peaks, len(p.Lines), "seed %d: %+v", seed, f.Peaks)
	}
}

func TestSmoothingMakesNoPeaks(t *testing.T) {
	p := ordinary()
	invented := 0
	for seed := range uint64(12) {
		raw := p.Scan(t, seed)
		for _, half := range []int{1, 2, 4, 7} {
			f := peaks.Find(remade(t, raw, smooth(raw, half)), copper, peaks.Settings{})
			assert.Contains(t, codes(f), "not-counts")
			invented += max(0, len(f.Peaks)-len(p.Lines))
		}
	}
	assert.LessOrEqual(t, invented, 5, "in 48 scans")
}

func TestWithout(t *testing.T) {
	p := ordinary()
	raw := p.Scan(t, 1)
	whole, none := peaks.Find(raw, copper, peaks.Settings{}).Without(raw)
	assert.Equal(t, raw, whole)
	assert.Len(t, none.Background, raw.Len())
	spiked := remade(t, raw, func(i int, y float64) float64 { return y + 4000*boolFloat(i == 700) })
	f := peaks.Find(spiked, copper, peaks.Settings{})
	less, g := f.Without(spiked)
	require.Equal(t, raw.Len()-1, less.Len())
	assert.Equal(t, slices.Delete(slices.Clone(raw.TwoTheta), 700, 701), less.TwoTheta)
	assert.Equal(t, slices.Delete(slices.Clone(f.Sigma), 700, 701), g.Sigma)
	assert.Len(t, g.Fitted, less.Len())
	assert.Empty(t, g.LeftOut)
	assert.Equal(t, []int{700}, f.LeftOut, "the first stays as it was")
}

// TestBroadPeaksSayNothingOfKAlpha2: no line of a fine-grained specimen shows its pair.
func TestBroadPeaksSayNothingOfKAlpha2(t *testing.T) {
	for seed := range uint64(20) {
		p := ordinary()
		rnd := rand.New(rand.NewPCG(seed, 3))
		for i := range p.Lines {
			if i > 2 { // the narrow ones of another phase, at low angles, set the width
				p.Lines[i].FWHM, p.Lines[i].Area, p.Lines[i].Eta = 0.6+0.6*rnd.Float64(), 50*p.Lines[i].Area, rnd.Float64()
				pair := p.Lines[i]
				pair.TwoTheta += 0.2 + 0.3*rnd.Float64()
				p.Lines = append(p.Lines, pair)
			}
		}
		f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
		assert.False(t, f.Stripped, "seed %d", seed)
	}
}

// TestShapeUncertainties: heights, widths and breadths of repeated scans scatter as stated.
func TestShapeUncertainties(t *testing.T) {
	p := xrdtest.Pattern{Lo: 30, Hi: 60, Step: 0.015, Background: flat(40)}
	for _, at := range []float64{35, 41, 47, 53} {
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 60, FWHM: xrdtest.Width(at), Eta: 0.5})
	}
	p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: 41.16, Area: 40, FWHM: xrdtest.Width(41), Eta: 0.5})
	var height, width, breadth, area, stated []float64
	for seed := range uint64(120) {
		f := peaks.Find(p.Scan(t, seed), copper, peaks.Settings{})
		require.Len(t, f.Peaks, 5)
		for k, q := range f.Peaks {
			if k == 1 || k == 2 {
				assert.Less(t, q.Overlap, -0.05, "two lines that overlap share what they have")
				continue
			}
			assert.Zero(t, q.Overlap)
			area, stated = append(area, q.Area), append(stated, q.AreaFWHM)
			line := p.Lines[min(k, 3)]
			if k > 2 {
				line = p.Lines[k-1]
			}
			truth := xrd.IntegralBreadth(line.FWHM, line.Eta)
			width = append(width, (q.FWHM-line.FWHM)/q.FWHMU)
			breadth = append(breadth, (q.IntegralBreadth-truth)/q.IntegralBreadthU)
			height = append(height, (q.Area/q.IntegralBreadth-line.Area/truth)/(q.Area/q.IntegralBreadth*q.HeightU/q.Height))
		}
	}
	assert.InDelta(t, stat.Mean(stated, nil), stat.Correlation(area, width, nil), 0.15, "of area and width")
	assert.InDelta(t, 1, spread(height), 0.15)
	assert.InDelta(t, 1, spread(width), 0.15)
	assert.InDelta(t, 1, spread(breadth), 0.15)
}

// Where everything looks like a defect, nothing is: intensities of the smallest number there is, and those of a scan that is zero but for
// every other point, leave a scan with its points.
func TestWhatIsUsualIsNoDefect(t *testing.T) {
	for name, y := range map[string]func(i int) float64{
		"smallest": func(int) float64 { return math.SmallestNonzeroFloat64 },
		"comb":     func(i int) float64 { return float64(i%2) * 1e5 },
		"steps":    func(i int) float64 { return 1e5 * float64(1-i/40%2) },
	} {
		x, v := make([]float64, 200), make([]float64, 200)
		for i := range x {
			x[i], v[i] = 20+0.02*float64(i), y(i)
		}
		scan, err := xrd.NewScan(x, v, nil, xrd.ScanInfo{})
		require.NoError(t, err)
		found := peaks.Find(scan, copper, peaks.Settings{})
		left, _ := found.Without(scan)
		assert.GreaterOrEqual(t, left.Len(), xrd.MinPoints, name)
	}
}
