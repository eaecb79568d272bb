package plots

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// A look is what plotters and figures take from a style.
type look struct {
	style Style
	m     measure
	th    theme
	w     *Words
	hair  float64 // thin line
}

func (s Style) look() look {
	m := s.measure()
	return look{s, m, s.theme(), s.words(), 0.8 * m.line}
}

// columnWidth is a little less than what print or screen can separate.
func (l look) columnWidth() float64 { return 0.8 * l.m.line }

// onCanvas gives the page and the axes of a plot whose data fill a canvas. The page begins at the foot of the canvas, so
// that heights on it are negative.
func onCanvas(c draw.Canvas, p *plot.Plot) (g page, x, y axis) {
	return page{canvas: c.Canvas}, axis{&p.X, c.Min.X.Points(), c.Max.X.Points()}, axis{&p.Y, -c.Min.Y.Points(), -c.Max.Y.Points()}
}

// put draws a plotter on a part of the figure, between axes that may end inside or outside of what it shows.
func (f *Figure) put(d plot.Plotter, x, y axis) {
	c := draw.Canvas{Canvas: f.canvas, Rectangle: vg.Rectangle{Min: f.at(point{x.from, y.from}), Max: f.at(point{x.to, y.to})}}
	d.Plot(c, &plot.Plot{X: *x.Axis, Y: *y.Axis})
}

// A LegendEntry is a name and what stands for it, for the legend of a plot.
type LegendEntry struct {
	Name  string // of the phase
	paint paint
	look
}

// Thumbnail fills the canvas with colour and pattern of the phase.
func (e LegendEntry) Thumbnail(c *draw.Canvas) {
	b := box{c.Min.X.Points(), -c.Max.Y.Points(), c.Max.X.Points(), -c.Min.Y.Points()}
	page{canvas: c.Canvas}.swatch(b, e.paint, 0.33*e.m.small, 0.6*e.hair)
}

// leftTicks draws grid lines across a panel, their values at its left.
func (g page) leftTicks(l look, b box, y axis, gap float64) {
	for _, t := range y.ticks(gap, l.w) {
		at := y.at(t.Value)
		g.line(l.th.grid, l.hair, point{b.left, at}, point{b.right, at})
		g.write(label{x: b.left - 0.4*l.m.small, y: at + 0.35*l.m.small, anchor: 1, size: l.m.small, colour: l.th.quiet, text: t.Label})
	}
}

// footTicks draws marks at a height, their values below.
func (g page) footTicks(l look, x axis, ticks []plot.Tick, y float64) {
	for _, t := range ticks {
		at := x.at(t.Value)
		g.line(l.th.ink, l.hair, point{at, y}, point{at, y + 0.35*l.m.small})
		g.write(label{x: at, y: y + 1.4*l.m.small, anchor: 0.5, size: l.m.small, colour: l.th.quiet, text: t.Label})
	}
}

// footTitle names a horizontal axis below the values of its ticks.
func (g page) footTitle(l look, b box, text string) {
	g.write(label{x: (b.left + b.right) / 2, y: b.bottom + 1.4*l.m.small + 1.35*l.m.text, anchor: 0.5, size: l.m.text, colour: l.th.ink,
		text: fit(text, l.m.text, false, b.right-b.left)})
}

// rangeOf adds a value to a range, unless it is not finite.
func rangeOf(lo, hi, v float64) (float64, float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return lo, hi
	}
	return math.Min(lo, v), math.Max(hi, v)
}
