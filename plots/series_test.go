package plots

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// traces are n scans of a mixture whose first phase grows.
func traces(n int) []Trace {
	var out []Trace
	for k := range n {
		r := resulttest.Mixture(uint64(k + 1))
		for i, v := range r.Curves.Phases[0] {
			more := 0.3 * float64(k) * v
			r.Curves.Phases[0][i] += more
			r.Curves.Calculated[i] += more
			r.Curves.Observed[i] += more
		}
		out = append(out, Trace{fmt.Sprintf("hours = %d", 10*k), r})
	}
	return out
}

func seriesFigures(t *testing.T, style Style) map[string]*Figure {
	t.Helper()
	out := map[string]*Figure{}
	for _, n := range []int{1, 2, 7, 200} {
		s := resulttest.Series(n)
		f, err := Trend(s, style)
		require.NoError(t, err)
		out[fmt.Sprint("trend of ", n)] = f
		s.Abscissa = ""
		for i := range s.Scans {
			s.Scans[i].Abscissa = nil
		}
		f, err = Trend(s, style)
		require.NoError(t, err)
		out[fmt.Sprint("counted trend of ", n)] = f
	}
	long := traces(MaxTraces)
	long[3].Name = strings.Repeat("a long name ", 9)
	for name, list := range map[string][]Trace{"one": traces(1), "three": traces(3), "twelve": long} {
		f, err := Stack(list, style, StackOptions{Total: 2000})
		require.NoError(t, err)
		out["stack of "+name] = f
		if len(list) > 1 {
			f, err = Difference(list, style, StackOptions{Lo: 25, Hi: 60})
			require.NoError(t, err)
			out["difference of "+name] = f
		}
	}
	return out
}

// Nothing of a series figure is written over something else or beyond the page, on paper and on slides.
func TestSeriesTextsNeitherOverlapNorLeaveThePage(t *testing.T) {
	for sn, s := range styles() {
		for fn, f := range seriesFigures(t, s) {
			var labels []label
			for _, it := range items(f) {
				if it.label != nil {
					labels = append(labels, *it.label)
				}
			}
			for i, l := range labels {
				b := l.box()
				where := sn + ", " + fn + ": " + l.text
				assert.True(t, b.left >= -0.01 && b.top >= -0.01 && b.right <= f.width+0.01 && b.bottom <= f.height+0.01, "%s leaves the page: %+v", where, b)
				for _, o := range labels[:i] {
					assert.False(t, b.grow(-0.35).meets(o.box().grow(-0.35)), "%s over %s", where, o.text)
				}
				if s.Medium == Slide {
					assert.GreaterOrEqual(t, l.size, 14.0, where)
				}
			}
		}
	}
}

// A limit is an open mark, never a point of the line or of the ribbon.
func TestTrendLeavesLimitsOpen(t *testing.T) {
	s := resulttest.Series(6)
	p, err := NewTrends(s, Style{})
	require.NoError(t, err)
	require.Len(t, p.trends, 3)
	fading := p.trends[1]
	require.Len(t, fading.points, 5, "the scan that failed has no point")
	assert.True(t, fading.points[4].limit)
	assert.Equal(t, 0.5, fading.points[4].value)
	drawn, x, y := newFigure(Style{}, 100), newAxis(0, 300, 0, 100, false), newAxis(0, 100, 100, 0, false)
	p.ribbon(drawn.page, fading, x, y)
	for _, pt := range items(drawn)[0].shape.runs[0] {
		assert.NotEqual(t, x.at(250), pt.x, "the ribbon ends at the last scan that shows the phase")
	}
	f, err := Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.LimitMark)
	assert.Contains(t, f.Texts(), EnglishSeries.WeightAxis)
	s.Scans[1].Verdict = result.Partial
	f, err = Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.PartAxis, "a part of a scan is not explained")
	for i := range s.Scans {
		for k := range s.Scans[i].Phases {
			s.Scans[i].Phases[k] = result.SeriesShare{DetectionLimit: ptr(0.1)}
		}
	}
	_, err = Trend(s, Style{})
	require.ErrorIs(t, err, ErrNoPoints)
}

// A phase that only one scan shows has no ribbon: a whisker tells its interval.
func TestTrendShowsTheIntervalOfOneScan(t *testing.T) {
	tr := trend{paint: Style{}.paint(0), points: []trendPoint{{x: 1, value: 15, lo: 7, hi: 25}, {x: 2, value: 0.2, limit: true, lo: math.NaN(), hi: math.NaN()}, {x: 3, value: 5, lo: 4, hi: 6}, {x: 4, value: 6, lo: 5, hi: 7}}}
	assert.Equal(t, []bool{true, false, false}, []bool{tr.alone(0), tr.alone(2), tr.alone(3)})
	p := &Trends{joined: true, marks: true, spanned: true}
	p.look = Style{}.look()
	drawn, x, y := newFigure(Style{}, 100), newAxis(0, 5, 0, 100, false), newAxis(0, 100, 100, 0, false)
	p.curve(drawn.page, tr, x, y)
	var whiskers []shape
	for _, i := range items(drawn) {
		if r := i.shape.runs; len(r) == 1 && len(r[0]) == 2 && math.Abs(r[0][0].x-r[0][1].x) < 1e-9 {
			whiskers = append(whiskers, *i.shape)
		}
	}
	require.Len(t, whiskers, 1)
	assert.Equal(t, []point{{x.at(1), y.at(7)}, {x.at(1), y.at(25)}}, whiskers[0].runs[0])
}

func ptr(v float64) *float64 { return &v }

// Replicates at one place are not joined into a line that would run up and down.
func TestTrendDoesNotJoinReplicates(t *testing.T) {
	s := resulttest.Series(4)
	s.Scans[3].Abscissa = s.Scans[2].Abscissa
	f, err := Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.Whiskers)
	assert.NotContains(t, f.Texts(), EnglishSeries.Ribbon)
}

// Labels that want the same height stand apart, in order, and stay on the panel as long as they fit.
func TestSpreadRows(t *testing.T) {
	got := spreadRows([]spreadRow{{want: 50}, {want: 50}, {want: 49}, {want: 99}, {want: 98}}, 10, 0, 100)
	var at []float64
	for _, r := range got {
		at = append(at, r.at)
	}
	assert.Equal(t, []float64{49, 59, 69, 90, 100}, at)
	for n := 1; n < 40; n++ {
		rows := make([]spreadRow, n)
		for i := range rows {
			rows[i] = spreadRow{index: i, want: float64((i * 37) % 101)}
		}
		got := spreadRows(rows, 5, 0, 100)
		for i, r := range got {
			assert.True(t, r.at >= -1e-9 && r.at <= 100+1e-9, "%d rows: %g", n, r.at)
			if i > 0 {
				assert.GreaterOrEqual(t, r.at-got[i-1].at, min(5, 100/float64(max(1, n-1)))-1e-9)
			}
		}
	}
}

// The stack is one scale: twice the counts are √2 as high wherever the scan stands, and the offset that the note names
// is the one that was drawn.
func TestStackIsOnOneScale(t *testing.T) {
	two := traces(2)
	p, err := newStackPlot(two, Style{}, StackOptions{})
	require.NoError(t, err)
	assert.Equal(t, []float64{1, 1}, []float64{p.traces[0].scale, p.traces[1].scale})
	f, err := Stack(two, Style{}, StackOptions{})
	require.NoError(t, err)
	assert.True(t, slices.ContainsFunc(f.Texts(), func(s string) bool { return strings.Contains(s, "none normalised") }))

	two[1].Result.Document.Scan.CountingTimeS = ptr(4) // the first: 2 s
	p, err = newStackPlot(two, Style{}, StackOptions{})
	require.NoError(t, err)
	assert.Equal(t, []float64{0.5, 0.25}, []float64{p.traces[0].scale, p.traces[1].scale})
	assert.Equal(t, "counts/s", p.unit)
}

func TestStackLeavesOutOtherRadiations(t *testing.T) {
	list := traces(4)
	list[2].Result.Document.Scan.Wavelength = 1.78899601
	f, err := Stack(list, Style{}, StackOptions{})
	require.NoError(t, err)
	all := strings.Join(f.Texts(), "|")
	assert.NotContains(t, all, "hours = 20")
	assert.Contains(t, all, "3 of 4 scans shown")
	_, err = Difference(list[2:3], Style{}, StackOptions{})
	require.ErrorIs(t, err, ErrNoPoints)
	_, err = Stack(nil, Style{}, StackOptions{})
	require.ErrorIs(t, err, ErrNoPoints)
	_, err = Stack(list, Style{}, StackOptions{Lo: 170, Hi: 175})
	require.ErrorIs(t, err, ErrNoPoints)
}

// The difference belongs to the phase that was made to grow, is zero for a scan minus itself, and follows another grid.
func TestDifferenceNamesWhatChanges(t *testing.T) {
	list := traces(2)
	p, err := newStackPlot(list, Style{}, StackOptions{})
	require.NoError(t, err)
	owners := map[int]int{}
	for _, d := range p.subtract(p.traces[1], p.traces[0]) {
		if d.value > 6*d.u {
			owners[d.group]++
		}
	}
	assert.Equal(t, []int{0}, slices.Collect(maps.Keys(owners)), "only the first phase grew")
	for _, d := range p.subtract(p.traces[0], p.traces[0]) {
		require.InDelta(t, 0, d.value, 1e-9)
	}
	shifted := p.traces[0]
	shifted.c.TwoTheta = slices.Clone(shifted.c.TwoTheta)
	for i := range shifted.c.TwoTheta {
		shifted.c.TwoTheta[i] += 0.01
		shifted.c.Observed[i] = 3*shifted.c.TwoTheta[i] - 0.06
	}
	straight := shifted
	straight.c.TwoTheta = p.traces[1].c.TwoTheta
	straight.c.Observed = make([]float64, len(straight.c.TwoTheta))
	for i, x := range straight.c.TwoTheta {
		straight.c.Observed[i] = 3 * x
	}
	for _, d := range p.subtract(shifted, straight) {
		require.InDelta(t, -0.06, d.value, 1e-9, "a straight line is interpolated exactly")
	}
}

func TestSpread(t *testing.T) {
	assert.Equal(t, []int{0, 1, 2}, Spread(3))
	got := Spread(2000)
	assert.Len(t, got, MaxTraces)
	assert.Equal(t, 0, got[0])
	assert.Equal(t, 1999, got[len(got)-1])
	assert.Empty(t, Spread(0))
}

// Identical input gives identical files; names from files cannot break out of the drawing.
func TestSeriesFiguresAreDeterministicAndEscaped(t *testing.T) {
	s := resulttest.Series(5)
	s.Phases[0].Name = `<script>"&amp;` + "\u202egnirts"
	s.Abscissa = "<b>hours</b>"
	f, err := Trend(s, Style{})
	require.NoError(t, err)
	g, err := Trend(s, Style{})
	require.NoError(t, err)
	a, err := f.SVG()
	require.NoError(t, err)
	b, _ := g.SVG()
	assert.Equal(t, a, b)
	assert.NotContains(t, string(a), "<script>")
	assert.NotContains(t, string(a), "<b>")
	requireXML(t, a)
}

func TestSeriesGoldenFigures(t *testing.T) {
	trend, err := Trend(resulttest.Series(7), Style{})
	require.NoError(t, err)
	stack, err := Stack(traces(4), Style{Medium: OneColumn}, StackOptions{Lo: 25, Hi: 60})
	require.NoError(t, err)
	difference, err := Difference(traces(4), Style{Medium: OneColumn}, StackOptions{Lo: 25, Hi: 60})
	require.NoError(t, err)
	for name, f := range map[string]*Figure{"trend": trend, "stack": stack, "difference": difference} {
		png, err := f.PNG()
		require.NoError(t, err)
		golden(t, "series-"+name, png)
	}
}

func BenchmarkStack(b *testing.B) {
	list := traces(MaxTraces)
	for b.Loop() {
		f, err := Stack(list, Style{}, StackOptions{})
		require.NoError(b, err)
		_, err = Render(map[string]*Figure{"stack": f})
		require.NoError(b, err)
	}
}

// A scan of which nobody knows where it lies is not drawn at its number among hours.
func TestTrendLeavesOutWhatHasNoPlace(t *testing.T) {
	s := resulttest.Series(6)
	s.Scans[3].Abscissa = nil
	p, err := NewTrends(s, Style{})
	require.NoError(t, err)
	for _, tr := range p.trends {
		assert.Len(t, tr.points, 4, "one failed, one has no place")
	}
	s.Abscissa = ""
	p, err = NewTrends(s, Style{})
	require.NoError(t, err)
	assert.Len(t, p.trends[0].points, 5, "counted scans all have one")
}
