package plots_test

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"phasetally/plots"
	"phasetally/xrd/resultfile/resulttest"
)

// The shares of the phases on a plot of one's own, with its axes, its legend and a mark of another plotter.
func ExampleNewShares() {
	shares, err := plots.NewShares(resulttest.Mixture(1), plots.Style{}, 20, 60) // of an analysis, from 20° to 60°
	if err != nil {
		fmt.Println(err)
		return
	}
	edge, err := plotter.NewLine(plotter.XYs{{X: 43.35, Y: 0}, {X: 43.35, Y: 2000}})
	if err != nil {
		fmt.Println(err)
		return
	}
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "2θ (°)", "counts, √ scale"
	p.Y.Scale = plots.SqrtScale{}
	p.Y.Tick.Marker = plots.Ticks{Scale: p.Y.Scale, Most: 12}
	p.Add(shares, edge)
	for _, e := range shares.Legend() {
		p.Legend.Add(e.Name, e)
	}
	picture, err := p.WriterTo(14*vg.Centimeter, 9*vg.Centimeter, "png")
	if err != nil {
		fmt.Println(err)
		return
	}
	_, err = picture.WriteTo(io.Discard) // a file, in earnest
	fmt.Printf("%.0f° to %.0f°, at most %.0f counts, %v\n", p.X.Min, p.X.Max, p.Y.Max, err)
	// Output: 20° to 60°, at most 9301 counts, <nil>
}

func ownPattern() (*plot.Plot, error) {
	shares, err := plots.NewShares(resulttest.Mixture(1), plots.Style{}, 20, 60)
	if err != nil {
		return nil, err
	}
	edge, err := plotter.NewLine(plotter.XYs{{X: 43.35, Y: 0}, {X: 43.35, Y: 2000}}) // corundum 113
	if err != nil {
		return nil, err
	}
	p := plot.New()
	p.Title.Text = "Mixture A (invented)"
	p.X.Label.Text, p.Y.Label.Text = "2θ (°)", "counts, √ scale"
	p.Y.Scale = plots.SqrtScale{}
	p.Y.Tick.Marker = plots.Ticks{Scale: p.Y.Scale, Most: 12}
	p.X.Tick.Marker = plots.Ticks{Most: 8}
	p.Add(shares, edge)
	p.Legend.Top = true
	for _, e := range shares.Legend() {
		p.Legend.Add(e.Name, e)
	}
	return p, nil
}

func ownFractions(t *testing.T) *plot.Plot {
	t.Helper()
	bars := plots.NewBars(resulttest.Mixture(1).Document, plots.Style{})
	p := plot.New()
	p.X.Label.Text = "wt%"
	p.Add(bars)
	p.NominalY(bars.Names()...)
	return p
}

func ownTrend(t *testing.T) *plot.Plot {
	t.Helper()
	trends, err := plots.NewTrends(resulttest.Series(7), plots.Style{})
	require.NoError(t, err)
	p := plot.New()
	p.X.Label.Text, p.Y.Label.Text = "hours", "wt%"
	p.Add(trends)
	for _, e := range trends.Legend() {
		p.Legend.Add(e.Name, e)
	}
	return p
}

// Lanes and residuals under each other, their axes aligned by the library.
func ownPanels(t *testing.T, c draw.Canvas) {
	t.Helper()
	r := resulttest.Mixture(1)
	lanes, err := plots.NewLanes(r, plots.Style{}, true)
	require.NoError(t, err)
	residuals, err := plots.NewResiduals(r, plots.Style{})
	require.NoError(t, err)
	top, foot := plot.New(), plot.New()
	top.Add(lanes)
	top.NominalY(lanes.Names()...)
	top.X.Min, top.X.Max = 5, 150
	foot.Add(residuals)
	foot.X.Label.Text, foot.Y.Label.Text = "2θ (°)", "residual (σ)"
	list := [][]*plot.Plot{{top}, {foot}}
	for i, row := range plot.Align(list, draw.Tiles{Rows: 2, Cols: 1}, c) {
		list[i][0].Draw(row[0])
	}
}

// Every plotter works on a plot that is not ours.
func TestPlottersOnOwnPlots(t *testing.T) {
	pattern, err := ownPattern()
	require.NoError(t, err)
	onto := func(p *plot.Plot) func(*testing.T, draw.Canvas) {
		return func(_ *testing.T, c draw.Canvas) { p.Draw(c) }
	}
	for name, paint := range map[string]func(*testing.T, draw.Canvas){
		"own-pattern": onto(pattern), "own-fractions": onto(ownFractions(t)), "own-trend": onto(ownTrend(t)), "own-panels": ownPanels} {
		c := vgimg.NewWith(vgimg.UseWH(14*vg.Centimeter, 9*vg.Centimeter), vgimg.UseDPI(100))
		paint(t, draw.New(c))
		var b bytes.Buffer
		_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(&b)
		require.NoError(t, err)
		plots.Golden(t, name, b.Bytes())
	}
}

// The axes of the figures are of the library: a plot of one's own puts values where the figure does.
func TestSqrtScaleAndRanges(t *testing.T) {
	var s plots.SqrtScale
	assert.InDelta(t, 0.5, s.Normalize(0, 400, 100), 1e-12, "√100 is half of √400")
	assert.InDelta(t, 0, s.Normalize(-4, 9, -4), 1e-12)
	assert.InDelta(t, 0.4, s.Normalize(-4, 9, 0), 1e-12, "2 of 5")
	r := resulttest.Mixture(1)
	shares, err := plots.NewShares(r, plots.Style{}, 0, 0)
	require.NoError(t, err)
	residuals, err := plots.NewResiduals(r, plots.Style{})
	require.NoError(t, err)
	trends, err := plots.NewTrends(resulttest.Series(7), plots.Style{})
	require.NoError(t, err)
	lanes, err := plots.NewLanes(r, plots.Style{}, true)
	require.NoError(t, err)
	p := plot.New()
	for _, d := range []plot.Plotter{shares, residuals, trends, lanes, plots.NewBars(r.Document, plots.Style{})} {
		lo, hi, least, most := d.(plot.DataRanger).DataRange()
		assert.True(t, lo < hi && least < most, "%T", d)
		p.Add(d)
	}
	assert.LessOrEqual(t, p.X.Min, 0.0)
	assert.GreaterOrEqual(t, p.X.Max, 150.0)
	_, err = plots.NewShares(r, plots.Style{}, 170, 175)
	require.ErrorIs(t, err, plots.ErrNoPoints)
}
