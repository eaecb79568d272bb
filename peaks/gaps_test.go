package peaks_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/xrdtest"
)

// without returns a scan without the points from lo to hi degrees.
func without(t *testing.T, scan xrd.Scan, lo, hi float64) xrd.Scan {
	t.Helper()
	var x, y []float64
	for i, v := range scan.TwoTheta {
		if v < lo || v > hi {
			x, y = append(x, v), append(y, scan.Intensity[i])
		}
	}
	out, err := xrd.NewScan(x, y, nil, scan.About)
	require.NoError(t, err)
	return out
}

// samePeaks asserts that all peaks of a scan that lie outside lo to hi by a margin are the same, to a share of their uncertainty, in
// a scan without that range, and that it has no others there.
func samePeaks(t *testing.T, whole, rest peaks.Found, lo, hi, margin float64) {
	t.Helper()
	outside := func(f peaks.Found) (out []peaks.Peak) {
		for _, p := range f.Peaks {
			if p.TwoTheta < lo-margin || p.TwoTheta > hi+margin {
				out = append(out, p)
			}
		}
		return out
	}
	a, b := outside(whole), outside(rest)
	if !assert.Len(t, b, len(a), "without %.2f° to %.2f°", lo, hi) {
		return
	}
	for i, p := range a {
		assert.InDelta(t, p.TwoTheta, b[i].TwoTheta, 0.5*p.TwoThetaU, "without %.2f° to %.2f°", lo, hi)
		assert.InDelta(t, p.Area, b[i].Area, 0.5*p.AreaU, "%.2f° without %.2f° to %.2f°", p.TwoTheta, lo, hi)
	}
	for _, p := range rest.Peaks {
		assert.False(t, p.TwoTheta > lo && p.TwoTheta < hi, "a peak at %.2f° in the gap from %.2f° to %.2f°", p.TwoTheta, lo, hi)
	}
}

// crowded is a scan of twelve lines on a curved background.
func crowded() xrdtest.Pattern {
	p := xrdtest.Pattern{Lo: 10, Hi: 100, Step: 0.02, Background: func(x float64) float64 { return 40 + 3000/x }}
	for i := range 12 {
		at := 20 + 6.3*float64(i)
		p.Lines = append(p.Lines, xrdtest.Line{TwoTheta: at, Area: 400 / float64(1+i%4), FWHM: xrdtest.Width(at), Eta: 0.5})
	}
	return p
}

// TestGapsChangeNoPeakBesideThem: whatever range is left out, between lines or through one, the peaks elsewhere stay.
func TestGapsChangeNoPeakBesideThem(t *testing.T) {
	scan := crowded().Scan(t, 5)
	whole := peaks.Find(scan, copper, peaks.Settings{})
	require.Len(t, whole.Peaks, 12)
	rnd := rand.New(rand.NewPCG(5, 1))
	for range 25 {
		lo := 12 + 75*rnd.Float64()
		hi := lo + []float64{0.15, 1, 5, 10}[rnd.IntN(4)]
		samePeaks(t, whole, peaks.Find(without(t, scan, lo, hi), copper, peaks.Settings{}), lo, hi, 1)
	}
}

// TestGapThroughTheTopOfALine: its flank is neither background nor step; the strongest line of the scan is cut at many places.
func TestGapThroughTheTopOfALine(t *testing.T) {
	p := crowded()
	p.Lines[4].Area = 4000
	scan := p.Scan(t, 6)
	whole := peaks.Find(scan, copper, peaks.Settings{})
	for k := range 9 {
		lo := p.Lines[4].TwoTheta + 0.05*float64(k-4)
		samePeaks(t, whole, peaks.Find(without(t, scan, lo, lo+5), copper, peaks.Settings{}), lo, lo+5, 1)
	}
}

// TestTwoRangesInOneFile: ranges with steps of their own are searched as each would be alone, and the background reaches over the
// gap without falling to nothing.
func TestTwoRangesInOneFile(t *testing.T) {
	p := crowded()
	low, high := p, p
	low.Hi, high.Lo, high.Step = 43, 62, 0.03
	a, b := low.Scan(t, 7), high.Scan(t, 8)
	both, err := xrd.NewScan(append(append([]float64{}, a.TwoTheta...), b.TwoTheta...), append(append([]float64{}, a.Intensity...), b.Intensity...), nil, a.About)
	require.NoError(t, err)
	f := peaks.Find(both, copper, peaks.Settings{})
	var made []xrdtest.Line
	for _, l := range p.Lines {
		if l.TwoTheta < 43 || l.TwoTheta > 62 {
			made = append(made, l)
		}
	}
	require.Len(t, f.Peaks, len(made))
	for i, l := range made {
		assert.InDelta(t, l.TwoTheta, f.Peaks[i].TwoTheta, 5*f.Peaks[i].TwoThetaU)
		assert.InDelta(t, l.Area, f.Peaks[i].Area, 5*f.Peaks[i].AreaU)
	}
	for i, x := range both.TwoTheta {
		want := p.Background(x)
		assert.InDelta(t, want, f.Background[i], 0.1*want+3*math.Sqrt(want)/5, "background at %.2f°", x)
	}
}

// TestBeamLost: stretches of nothing on a background of 50 are left out, and the peaks elsewhere stay.
func TestBeamLost(t *testing.T) {
	p := crowded()
	p.Background = flat(50)
	scan := p.Scan(t, 9)
	whole := peaks.Find(scan, copper, peaks.Settings{})
	for _, lost := range [][2]float64{{33.1, 34.1}, {47, 52}, {60.5, 63}} {
		dark := scan
		dark.Intensity = append([]float64{}, scan.Intensity...)
		n := 0
		for i, x := range scan.TwoTheta {
			if x >= lost[0] && x <= lost[1] {
				dark.Intensity[i] = 0
				n++
			}
		}
		f := peaks.Find(dark, copper, peaks.Settings{})
		assert.Contains(t, codes(f), "dropouts")
		assert.Len(t, f.LeftOut, n)
		samePeaks(t, whole, f, lost[0], lost[1], 1)
	}
}
