package plots

import (
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// What plotters draw is checked as places on a canvas of 200 × 100 points, its corner at the top left, so that a value v of an axis
// from lo to hi stands at 200 (v − lo)/(hi − lo) from the left or 100 (hi − v)/(hi − lo) from the top.

func drawnOn(d plot.Plotter, x, y [2]float64) []item {
	c := &readCanvas{pencil: newPencil(), height: 100}
	p := plot.New()
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = x[0], x[1], y[0], y[1]
	d.Plot(draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{Max: vg.Point{X: 200, Y: 100}}}, p)
	return c.items
}

// strokes are the runs of all lines of a colour, areas the outlines of all areas of one.
func strokes(items []item, c color.NRGBA) (out [][]point) {
	for _, i := range items {
		if i.shape != nil && i.shape.stroke == c {
			out = append(out, i.shape.runs...)
		}
	}
	return out
}

func areas(items []item, c color.NRGBA) (out [][]point) {
	for _, i := range items {
		if i.shape != nil && i.shape.fill == c {
			out = append(out, i.shape.runs...)
		}
	}
	return out
}

// extent is the box around runs.
func extentOf(runs ...[]point) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, r := range runs {
		for _, p := range r {
			b = box{math.Min(b.left, p.x), math.Min(b.top, p.y), math.Max(b.right, p.x), math.Max(b.bottom, p.y)}
		}
	}
	return b
}

func value(v float64) *float64 { return &v }

// twoPhases is a scan from 20° to 60° on a background of 10: a rises to 90 above it at 30°, b to 40 at 50°. No noise.
func twoPhases() result.Analysis {
	var r result.Analysis
	a, b := []float64{}, []float64{}
	for i := range 401 {
		t := 20 + 0.1*float64(i)
		va, vb := 90*math.Exp(-math.Pow(t-30, 2)), 40*math.Exp(-math.Pow(t-50, 2))
		a, b = append(a, va), append(b, vb)
		c := &r.Curves
		c.TwoTheta, c.Background, c.Sigma = append(c.TwoTheta, t), append(c.Background, 10), append(c.Sigma, 2)
		c.Observed, c.Calculated = append(c.Observed, 10+va+vb), append(c.Calculated, 10+va+vb)
	}
	r.Curves.Phases = [][]float64{a, b}
	line := func(at, expected float64, v result.LineVerdict) result.PhaseLine {
		return result.PhaseLine{TwoTheta: at, Expected: expected, Verdict: v}
	}
	r.Document.Phases = []result.Phase{
		{ID: "a", Name: "phase a", Origin: "specimen", WeightPercent: value(60), WeightPercentLo: value(50), WeightPercentHi: value(80), Lines: []result.PhaseLine{
			line(30, 100, result.LineSeen), line(40, 25, result.LineMissing), line(45, 0.1, result.LineWeak), line(55, 25, result.LineOverlapped), line(80, 50, result.LineSeen)}},
		{ID: "b", Name: "phase b", Origin: "specimen", WeightPercent: value(40), Lines: []result.PhaseLine{line(50, 7, result.LineSeen)}},
	}
	r.Document.Scan.Radiation, r.Document.Scan.NoiseModel = "Cu", "poisson"
	return r
}

// Sticks stand at the angles of lines that are in range and strong enough to be seen, as long as intensities or their roots; missing
// lines are rings in the middle of the lane.
func TestLanesStandWhereLinesAre(t *testing.T) {
	for sqrt, short := range map[bool]float64{false: 0.25, true: 0.5} {
		l, err := NewLanes(twoPhases(), Style{}, sqrt)
		require.NoError(t, err)
		assert.Equal(t, []string{"phase b", "phase a"}, l.Names(), "from below")
		drawn := drawnOn(l, [2]float64{20, 60}, [2]float64{-0.5, 1.5})
		sticks := strokes(drawn, l.groups[0].paint.edge)
		require.Len(t, sticks, 2, "30° and 55°: 40° is missing, 45° too weak, 80° out of range")
		for k, at := range []float64{50, 175} {
			assert.Equal(t, at, sticks[k][0].x)
			assert.Equal(t, at, sticks[k][1].x)
			assert.InDelta(t, 50, sticks[k][0].y, 1e-9, "the foot of the upper lane")
		}
		long := sticks[0][0].y - sticks[0][1].y
		assert.True(t, long > 35 && long < 50, "most of a lane: %g", long)
		assert.InDelta(t, short*long, sticks[1][0].y-sticks[1][1].y, 1e-9)
		lower := strokes(drawn, l.groups[1].paint.edge)
		require.Len(t, lower, 1)
		assert.InDelta(t, long, lower[0][0].y-lower[0][1].y, 1e-9, "each phase has a scale of its own")
		rings := areas(drawn, l.th.paper)
		require.Len(t, rings, 1)
		b := extentOf(rings...)
		assert.InDelta(t, 100, (b.left+b.right)/2, 1e-9, "40°")
		assert.InDelta(t, 25, (b.top+b.bottom)/2, 1e-9)
	}
	l, err := NewLanes(twoPhases(), Style{}, false)
	require.NoError(t, err)
	lo, hi, least, most := l.DataRange()
	assert.Equal(t, []float64{30, 80, -0.5, 1.5}, []float64{lo, hi, least, most})
	legend := l.Legend()
	require.Len(t, legend, 2)
	assert.Equal(t, "phase a", legend[0].Name)
	_, err = NewLanes(result.Analysis{}, Style{}, false)
	assert.ErrorIs(t, err, ErrNoPoints)
}

// Hostile angles neither enter a range nor draw anything.
func TestLanesOfImpossibleLines(t *testing.T) {
	r := twoPhases()
	for i, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		r.Document.Phases[0].Lines[i].TwoTheta = v
	}
	r.Document.Phases[1].Lines[0].Expected = math.NaN()
	l, err := NewLanes(r, Style{}, false)
	require.NoError(t, err)
	lo, hi, _, _ := l.DataRange()
	assert.Equal(t, []float64{50, 80}, []float64{lo, hi}, "b is at 50°, strong or not")
	drawn := drawnOn(l, [2]float64{20, 60}, [2]float64{-0.5, 1.5})
	assert.Len(t, strokes(drawn, l.groups[0].paint.edge), 1, "55° is left")
	assert.Empty(t, strokes(drawn, l.groups[1].paint.edge))
	assert.Empty(t, areas(drawn, l.th.paper), "a line at no angle is missing nowhere")
}

// Shares lie upon each other on the background, each in its colour, and the scan over them.
func TestSharesLieOnTheBackground(t *testing.T) {
	s, err := NewShares(twoPhases(), Style{}, 0, 0)
	require.NoError(t, err)
	drawn := drawnOn(s, [2]float64{20, 60}, [2]float64{0, 100})
	for k, c := range []struct{ at, top float64 }{{50, 0}, {150, 50}} { // 10 + 90 of 100 at 30°, 10 + 40 at 50°
		area := extentOf(areas(drawn, withAlpha(s.groups[k].paint.fill, 0.55))...)
		assert.InDelta(t, c.top, area.top, 0.3, "its crest")
		assert.InDelta(t, 90, area.bottom, 0.3, "the background")
		assert.True(t, area.left < c.at && c.at < area.right && area.right-area.left < 40, "%+v: where it gives something, and nowhere else", area)
	}
	scan := strokes(drawn, mix(s.th.paper, s.th.curve, 0.85))
	require.Len(t, scan, 1)
	assert.InDelta(t, 0, extentOf(scan...).top, 0.3)
	assert.Equal(t, []float64{0, 200}, []float64{extentOf(scan...).left, extentOf(scan...).right})
	lo, hi, least, most := s.DataRange()
	assert.Equal(t, []float64{20, 60, 0}, []float64{lo, hi, least})
	assert.InDelta(t, 100, most, 0.1)
}

// Where two phases overlap, the second begins where the first ends, so that the edge of the stack is the whole.
func TestSharesAddUp(t *testing.T) {
	r := twoPhases()
	r.Curves.Phases[1] = r.Curves.Phases[0]
	for i := range r.Curves.Calculated {
		r.Curves.Calculated[i] = 10 + 2*r.Curves.Phases[0][i]
	}
	s, err := NewShares(r, Style{}, 0, 0)
	require.NoError(t, err)
	drawn := drawnOn(s, [2]float64{20, 60}, [2]float64{0, 200})
	assert.InDelta(t, 50, extentOf(areas(drawn, withAlpha(s.groups[0].paint.fill, 0.55))...).top, 0.3)
	assert.InDelta(t, 5, extentOf(areas(drawn, withAlpha(s.groups[1].paint.fill, 0.55))...).top, 0.3)
}

// A masked range is shaded from its first to its last point, nowhere else.
func TestMasksAreShaded(t *testing.T) {
	r := twoPhases()
	r.Curves.Masked = make([]bool, 401)
	for i := 100; i <= 200; i++ { // 30° to 40°
		r.Curves.Masked[i] = true
	}
	r.Curves.Masked[400] = true // the last point
	s, err := NewShares(r, Style{}, 0, 0)
	require.NoError(t, err)
	shaded := areas(drawnOn(s, [2]float64{20, 60}, [2]float64{0, 100}), s.th.shade)
	require.Len(t, shaded, 2)
	assert.InDelta(t, 50, extentOf(shaded[0]).left, 1e-6)
	assert.InDelta(t, 100, extentOf(shaded[0]).right, 1e-6)
	assert.Equal(t, []float64{0, 100}, []float64{extentOf(shaded[0]).top, extentOf(shaded[0]).bottom}, "all of the height")
	assert.InDelta(t, 200, extentOf(shaded[1]).left, 1e-6)
	cut, err := NewShares(r, Style{}, 20, 29)
	require.NoError(t, err)
	assert.Empty(t, cut.masked(), "outside of what is shown")
}

// Intensities that are no numbers are left out of the range, and a scan of nothing but zeros has one all the same.
func TestSharesOfImpossibleScans(t *testing.T) {
	r := twoPhases()
	r.Curves.Observed[7], r.Curves.Observed[8], r.Curves.Observed[9] = math.NaN(), math.Inf(1), -30
	s, err := NewShares(r, Style{}, 0, 0)
	require.NoError(t, err)
	_, _, least, most := s.DataRange()
	assert.Equal(t, -30.0, least)
	assert.InDelta(t, 100, most, 0.1)
	for _, i := range drawnOn(s, [2]float64{20, 60}, [2]float64{0, 100}) {
		if i.shape != nil {
			b := extentOf(i.shape.runs...)
			assert.False(t, b.top < -1e-9 || b.bottom > 100+1e-9, "%+v leaves the panel", b)
		}
	}
	flat := result.Analysis{Curves: result.Curves{TwoTheta: []float64{20, 21}, Observed: []float64{0, 0}, Calculated: []float64{0, 0}, Background: []float64{0, 0}, Sigma: []float64{0, 0}}}
	s, err = NewShares(flat, Style{}, 0, 0)
	require.NoError(t, err)
	_, _, least, most = s.DataRange()
	assert.Less(t, least, most)
	assert.Empty(t, s.Legend())
}

// The residual of a point stands at its angle in standard uncertainties; what is beyond the axis is cut and has an arrow head that
// points onward; the line is broken at points without one.
func TestResidualsStandInSigmas(t *testing.T) {
	r := twoPhases()
	for i, z := range map[int]float64{100: 4, 200: 20, 300: -20} { // 30°, 40°, 50°
		r.Curves.Observed[i] = r.Curves.Calculated[i] + z*r.Curves.Sigma[i]
	}
	r.Curves.Sigma[50] = 0
	r.Curves.Masked = make([]bool, 401)
	r.Curves.Masked[350] = true
	d, err := NewResiduals(r, Style{})
	require.NoError(t, err)
	assert.Equal(t, 20.0, math.Abs(d.z[d.worst]))
	drawn := drawnOn(d, [2]float64{20, 60}, [2]float64{-5, 5})
	line := strokes(drawn, mix(d.th.paper, d.th.curve, 0.8))
	require.Len(t, line, 3, "broken at 25° and at 55°")
	heights := map[float64]float64{}
	for _, run := range line {
		for _, p := range run {
			heights[math.Round(p.x*10)/10] = p.y
		}
	}
	assert.InDelta(t, 10, heights[50], 1e-6, "4 of −5 to 5")
	assert.InDelta(t, 0, heights[100], 1e-6, "cut")
	assert.InDelta(t, 100, heights[150], 1e-6, "cut")
	heads := areas(drawn, d.th.alarm)
	require.Len(t, heads, 2)
	for _, h := range heads {
		up := math.Abs(h[0].x-100) < 1e-6
		assert.True(t, up || math.Abs(h[0].x-150) < 1e-6, "at 40° and 50°")
		assert.Equal(t, up, h[0].y < h[1].y, "the tip shows where it goes on")
	}
	band := areas(drawn, d.th.shade)
	assert.InDelta(t, 20, extentOf(band[0]).top, 1e-6, "+3")
	assert.InDelta(t, 80, extentOf(band[0]).bottom, 1e-6, "−3")
	_, _, least, most := d.DataRange()
	assert.Equal(t, []float64{-5, 5}, []float64{least, most}, "two of 400 points do not widen it")
	_, err = NewResiduals(result.Analysis{}, Style{})
	assert.ErrorIs(t, err, ErrNoPoints)
}

// The panel has room for 99.7 % of the residuals, at least ±5 and at most ±12.
func TestResidualLimit(t *testing.T) {
	many := func(n int, v, rest float64) []float64 {
		z := make([]float64, 1000)
		for i := range z {
			if z[i] = rest; i < n {
				z[i] = v
			}
		}
		return z
	}
	for _, c := range []struct {
		z    []float64
		want float64
	}{
		{nil, 5}, {[]float64{math.NaN()}, 5}, {many(0, 0, 1), 5}, {many(2, 9, 1), 5}, {many(5, -8.2, 1), 9}, {many(900, 50, 1), 12},
	} {
		assert.Equal(t, c.want, residualLimit(c.z))
	}
}

// A bar reaches to its fraction and its whisker over the interval; what was not seen is an open mark at its limit; an unknown fraction
// has neither.
func TestBarsReachTheirFractions(t *testing.T) {
	doc := twoPhases().Document
	doc.Phases = append(doc.Phases, result.Phase{ID: "c", Name: "phase c", Origin: "preparation"})
	doc.NotDetected = []result.NotDetected{{ID: "d", Name: "phase d", DetectionLimit: value(5), Asked: true}, {ID: "e", Name: "watched only", DetectionLimit: value(5)}}
	p := NewBars(doc, Style{})
	assert.Equal(t, []string{"phase d", "phase c (preparation), not in the 100 %", "phase b", "phase a"}, p.Names())
	_, most, least, top := p.DataRange()
	assert.Equal(t, []float64{80, -0.5, 3.5}, []float64{most, least, top}, "the upper end of an interval counts")
	drawn := drawnOn(p, [2]float64{0, 100}, [2]float64{least, top})
	for k, want := range []float64{120, 80} {
		b := extentOf(areas(drawn, withAlpha(p.bars[k].paint.fill, 0.55))...)
		assert.Equal(t, []float64{0, want}, []float64{b.left, b.right})
		assert.InDelta(t, 12.5+25*float64(k), (b.top+b.bottom)/2, 1e-9, "row %d from the top", k)
	}
	whisker := extentOf(strokes(drawn, p.th.ink)...)
	assert.Equal(t, []float64{100, 160}, []float64{whisker.left, whisker.right}, "50 to 80 of 100, the only interval")
	assert.InDelta(t, 12.5, (whisker.top+whisker.bottom)/2, 1e-9)
	open := areas(drawn, p.th.paper)
	require.Len(t, open, 1)
	mark := extentOf(open...)
	assert.True(t, mark.left < 10 && 10 < mark.right && mark.right-mark.left < 10, "%+v: 5 of 100", mark)
	assert.InDelta(t, 87.5, (mark.top+mark.bottom)/2, 1e-9)
	texts := map[float64]string{}
	for _, i := range drawn {
		if i.label != nil {
			texts[math.Floor(i.label.y/25)] = i.label.text
			assert.Greater(t, i.label.x, 0.0)
		}
	}
	assert.Contains(t, texts[0], "60")
	assert.Contains(t, texts[3], "5")
	assert.Equal(t, English.Unknown, texts[2])
}

// A fraction that is known to lie between two limits only is a solid bar to the lower and a dashed band to the upper, and no value in
// between is printed.
func TestSpannedBars(t *testing.T) {
	doc := twoPhases().Document
	doc.Absorption = result.AbsorptionLimits
	doc.Phases[0].CoarseLimitWeightPercent, doc.Phases[1].CoarseLimitWeightPercent = value(80), value(20)
	p := NewBars(doc, Style{})
	drawn := drawnOn(p, [2]float64{0, 100}, [2]float64{-0.5, 1.5})
	solid := extentOf(areas(drawn, withAlpha(p.bars[0].paint.fill, 0.55))...)
	assert.Equal(t, []float64{0, 100}, []float64{solid.left, solid.right}, "0 to 50")
	band := extentOf(areas(drawn, withAlpha(p.bars[0].paint.fill, 0.3))...)
	assert.Equal(t, []float64{100, 160}, []float64{band.left, band.right}, "50 to 80")
	assert.Contains(t, p.bars[0].text, "50")
	assert.Contains(t, p.bars[0].text, "80")
	assert.NotContains(t, p.bars[0].text, "60")
}

// A plot of one's own leaves room for the values beside the bars.
func TestBarsAskForRoom(t *testing.T) {
	p := NewBars(resulttest.Mixture(1).Document, Style{})
	plt := plot.New()
	plt.Add(p)
	boxes := p.GlyphBoxes(plt)
	require.Len(t, boxes, len(p.bars))
	for k, b := range boxes {
		assert.GreaterOrEqual(t, b.Rectangle.Max.X.Points(), textWidth(clean(p.bars[k].text), p.m.text, false))
		assert.InDelta(t, 0.9-0.2*float64(k), b.Y, 1e-9, "five rows from the top")
		assert.True(t, b.X > 0 && b.X <= 1, "%g", b.X)
	}
	_, most, least, top := NewBars(result.Document{}, Style{}).DataRange()
	assert.Equal(t, []float64{1, -0.5, 0.5}, []float64{most, least, top}, "of nothing")
}

// A thumbnail fills its place in the legend with what the phase has in the figure.
func TestThumbnails(t *testing.T) {
	s, err := NewShares(twoPhases(), Style{Dark: true}, 0, 0)
	require.NoError(t, err)
	for k, e := range s.Legend() {
		c := &readCanvas{pencil: newPencil(), height: 100}
		e.Thumbnail(&draw.Canvas{Canvas: c, Rectangle: vg.Rectangle{Min: vg.Point{X: 10, Y: 20}, Max: vg.Point{X: 40, Y: 35}}})
		filled := areas(c.items, withAlpha(s.groups[k].paint.fill, 0.55))
		require.Len(t, filled, 1)
		assert.Equal(t, box{10, 65, 40, 80}, extentOf(filled...))
		assert.Greater(t, len(c.items), 2, "hatch and edge")
	}
}

// A trend runs through the fractions at their conditions, and its ribbon over their intervals.
func TestTrendsRunThroughTheFractions(t *testing.T) {
	entry := func(hours, wt float64) result.SeriesEntry {
		return result.SeriesEntry{Abscissa: &hours, Phases: []result.SeriesShare{{ID: "a", Detected: true, WeightPercent: value(wt), WeightPercentLo: value(wt - 10), WeightPercentHi: value(wt + 10)}}}
	}
	s := result.Series{Abscissa: "hours", Phases: []result.SeriesPhase{{ID: "a", Name: "phase a"}}, Scans: []result.SeriesEntry{entry(30, 70), entry(10, 20), entry(20, 50)}}
	p, err := NewTrends(s, Style{})
	require.NoError(t, err)
	lo, hi, least, most := p.DataRange()
	assert.Equal(t, []float64{10, 30, 0}, []float64{lo, hi, least})
	assert.True(t, most > 80 && most < 90, "the upper ends of intervals, and little more: %g", most)
	drawn := drawnOn(p, [2]float64{10, 30}, [2]float64{0, 100})
	line := strokes(drawn, p.trends[0].paint.edge)
	require.NotEmpty(t, line)
	for k, want := range []point{{0, 80}, {100, 50}, {200, 30}} { // in the order of the condition, not of the scans
		assert.InDelta(t, want.x, line[0][k].x, 1e-9)
		assert.InDelta(t, want.y, line[0][k].y, 1e-9)
	}
	ribbon := extentOf(areas(drawn, withAlpha(p.trends[0].paint.fill, 0.3))...)
	assert.InDelta(t, 20, ribbon.top, 1e-9)
	assert.InDelta(t, 90, ribbon.bottom, 1e-9)
	require.Len(t, p.Legend(), 1)

	alone, err := NewTrends(result.Series{Phases: s.Phases, Scans: s.Scans[:1]}, Style{})
	require.NoError(t, err)
	lo, hi, _, _ = alone.DataRange()
	assert.Less(t, lo, hi, "one scan has a range, too")
	_, err = NewTrends(result.Series{Phases: s.Phases}, Style{})
	assert.ErrorIs(t, err, ErrNoPoints)
}
