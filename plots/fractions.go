package plots

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
)

// bar is one row of a figure of horizontal bars.
type bar struct {
	name, text    string
	value, lo, hi float64 // NaN: unknown
	spanned       bool    // lo to hi is the span between two limits of absorption, and value only its middle
	limit         bool    // value is a limit, drawn as an open mark
	paint         paint
}

// maxLimits is how many phases that were not seen a figure lists before it counts the rest.
const maxLimits = 6

// Fractions draws weight fractions as horizontal bars with their 95 % intervals and values, then the phases that were
// asked for and not seen as open marks at their limits.
func Fractions(doc result.Document, style Style) (*Figure, error) {
	w := style.words()
	bars, rest := fractionBars(doc, style)
	note := ""
	if rest > 0 {
		note = fmt.Sprintf(w.More, rest)
	}
	title := titled(doc.Scan.Simulated != "", Answer(doc, w), w)
	axisTitle := w.WeightAxis
	switch {
	case doc.PartOnly():
		axisTitle = w.RecognisedAxis
	case doc.Spanned():
		axisTitle = w.SpanAxis
	}
	f := barChart(style, bars, title, axisTitle, note)
	f.title = fmt.Sprintf(w.FractionsTitle, title)
	f.about = w.FractionsAbout
	return f, nil
}

// fractionBars are the rows of a document; rest counts those that a figure has no room for.
func fractionBars(doc result.Document, style Style) (bars []bar, rest int) {
	w := style.words()
	slots := Slots(doc)
	for i, p := range doc.Phases {
		if i >= 3*Colours {
			rest++
			continue
		}
		b := phaseBar(p, style.paint(slots[i]), w)
		if b.spanned = doc.Spanned() && !math.IsNaN(b.lo) && !math.IsNaN(b.hi); b.spanned {
			n := Decimals(p.WeightPercentLo, p.WeightPercentHi)
			b.text = fmt.Sprintf(w.Between, w.number(Fixed(b.lo, n)), w.number(Fixed(b.hi, n)))
		}
		bars = append(bars, b)
	}
	listed := 0
	for _, n := range doc.NotDetected {
		if !n.Asked {
			continue // the watch-list is told in words
		}
		if listed++; listed > maxLimits {
			rest++
			continue
		}
		b := bar{name: w.phase(n.Name), value: math.NaN(), lo: math.NaN(), hi: math.NaN(), limit: true, paint: style.paint(-1), text: w.Unknown}
		if k := slotOf(doc.PhaseOrder, n.ID); k >= 0 {
			b.paint = style.paint(Colouring(doc.PhaseOrder)[k])
		}
		if known(n.DetectionLimit) {
			b.value, b.text = *n.DetectionLimit, fmt.Sprintf(w.NotSeen, w.number(Limit(*n.DetectionLimit)))
		}
		bars = append(bars, b)
	}
	return bars, rest
}

func phaseBar(p result.Phase, pt paint, w *Words) bar {
	b := bar{name: w.phase(p.Name), value: math.NaN(), lo: math.NaN(), hi: math.NaN(), paint: pt, text: w.Unknown}
	if p.Origin != "specimen" && p.Origin != "" {
		b.name = fmt.Sprintf(w.NotSpecimen, w.phase(p.Name)+" ("+w.term(p.Origin)+")")
	}
	if known(p.WeightPercent) {
		b.value = *p.WeightPercent
		b.text = w.number(Amount(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi)) + " " + w.WeightUnit
	}
	if known(p.WeightPercentLo) && known(p.WeightPercentHi) {
		b.lo, b.hi = *p.WeightPercentLo, *p.WeightPercentHi
	}
	return b
}

// barChart lays out rows of bars under a title; the figure is as tall as its rows need, except on a slide.
func barChart(style Style, bars []bar, title, axisTitle, note string) *Figure {
	m, th := style.measure(), style.theme()
	row := 2.3 * m.text
	left := 0.6 * m.text
	lines := titleLines(title, m, m.width-2*left)
	below, noteLine := footLines(axisTitle, note, m, m.width-2*left)
	head, foot := (2.6+titleStep*float64(len(lines)-1))*m.text, 4.2*m.small+footStep*m.small*float64(max(len(below)-1, noteLine))
	height := head + row*math.Max(1, float64(len(bars))) + foot
	if style.Medium == Slide {
		height = m.height
		row = math.Min(4*m.text, (height-head-foot)/math.Max(1, float64(len(bars))))
	}
	f := newFigure(style, height)
	hair := 0.8 * m.line
	f.headline(style.look(), left, lines)
	size := style.look().textSize(row)
	x := barAxis(bars, m, left, size)
	bottom := head + row*float64(len(bars))
	for _, t := range x.ticks(4.5*m.small, style.words()) {
		at := x.at(t.Value)
		f.line(th.grid, hair, point{at, head}, point{at, bottom + 0.3*m.small})
		f.write(label{x: at, y: bottom + 1.5*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: t.Label})
	}
	p := &Bars{style.look(), bars}
	f.put(p, x, newAxis(-0.5, math.Max(1, float64(len(bars)))-0.5, bottom, head, false))
	for k, b := range bars {
		f.write(label{x: x.from - 0.5*m.text, y: head + row*(float64(k)+0.5) + 0.34*size, anchor: 1, size: size, colour: th.ink, text: fit(b.name, size, false, x.from-m.text)})
	}
	f.line(th.ink, hair, point{x.from, head}, point{x.from, bottom})
	for i, s := range below {
		f.write(label{x: left, y: bottom + 3.1*m.small + footStep*m.small*float64(i), size: m.small, colour: th.ink, text: s})
	}
	f.write(label{x: m.width - left, y: bottom + 3.1*m.small + footStep*m.small*float64(noteLine), anchor: 1, size: m.small, colour: th.quiet, text: note})
	return f
}

// footStep is the distance of lines below an axis, in sizes of their letters.
const footStep = 1.25

// footLines breaks the title of an axis into lines, and returns in which of them, or below them, a note at the right has room.
func footLines(title, note string, m measure, width float64) (lines []string, noteLine int) {
	lines = wrap(title, m.small, false, width)
	room := func(s string) bool {
		return textWidth(s, m.small, false)+textWidth(clean(note), m.small, false)+m.small < width
	}
	for note != "" && noteLine < len(lines) && !room(lines[noteLine]) {
		noteLine++
	}
	return lines, noteLine
}

// barAxis leaves room for the names on the left and the values on the right.
func barAxis(bars []bar, m measure, left, size float64) axis {
	names, values, most := 0.0, 0.0, 0.0
	for _, b := range bars {
		names = math.Max(names, textWidth(clean(b.name), size, false))
		values = math.Max(values, textWidth(clean(b.text), size, false))
		most = math.Max(most, math.Max(finite(b.value), finite(b.hi)))
	}
	if most == 0 {
		most = 1
	}
	from := left + math.Min(names, 0.34*m.width) + 0.9*m.text
	return newAxis(0, most, from, math.Max(m.width-left-values-1.2*m.text, from+0.15*m.width), false)
}

// Bars is a plotter of weight fractions, wt%: a horizontal bar each with its 95 % interval and value, an open mark at the
// limit of what was not seen. Row k of n is centred at n − 1 − k, so that NominalY of a plot can name them.
type Bars struct {
	look
	bars []bar
}

// NewBars returns the plotter of a document.
func NewBars(doc result.Document, style Style) *Bars {
	bars, _ := fractionBars(doc, style)
	return &Bars{style.look(), bars}
}

// Names are those of the rows from below, as NominalY of a plot takes them.
func (p *Bars) Names() []string {
	var out []string
	for _, b := range slices.Backward(p.bars) {
		out = append(out, b.name)
	}
	return out
}

// DataRange returns what bars and intervals cover, from 0, and the places of the rows.
func (p *Bars) DataRange() (xmin, xmax, ymin, ymax float64) {
	for _, b := range p.bars {
		xmax = math.Max(xmax, math.Max(finite(b.value), finite(b.hi)))
	}
	if xmax == 0 {
		xmax = 1
	}
	return 0, xmax, -0.5, math.Max(1, float64(len(p.bars))) - 0.5
}

// GlyphBoxes asks for the room that the values take at the right of the bars.
func (p *Bars) GlyphBoxes(plt *plot.Plot) []plot.GlyphBox {
	var out []plot.GlyphBox
	for k, b := range p.bars {
		width := vg.Length(0.6*p.m.text + textWidth(clean(b.text), p.m.text, false))
		out = append(out, plot.GlyphBox{X: plt.X.Norm(math.Max(finite(b.value), finite(b.hi))), Y: plt.Y.Norm(float64(len(p.bars) - 1 - k)),
			Rectangle: vg.Rectangle{Max: vg.Point{X: width}}})
	}
	return out
}

// Plot draws the rows.
func (p *Bars) Plot(c draw.Canvas, plt *plot.Plot) {
	g, x, y := onCanvas(c, plt)
	row := math.Abs(y.at(0) - y.at(1))
	for k, b := range p.bars {
		p.bar(g, b, x, y.at(float64(len(p.bars)-1-k)), row)
	}
}

// span draws a fraction that is known to lie between two limits only: solid up to the lower, a pale band with a dashed edge
// from there to the upper.
func (p *Bars) span(g page, b bar, x axis, y, thick float64) {
	m := p.m
	lo, hi := x.clip(b.lo), x.clip(b.hi)
	g.swatch(box{x.from, y - thick, lo, y + thick}, b.paint, 0.45*m.small, 0.5*m.line)
	band := [][]point{{{lo, y - thick}, {hi, y - thick}, {hi, y + thick}, {lo, y + thick}}}
	g.add(shape{runs: band, closed: true, fill: withAlpha(b.paint.fill, 0.3), stroke: b.paint.edge, width: 1.4 * m.line, dash: []float64{3 * m.line, 3 * m.line}})
	for _, e := range []float64{lo, hi} {
		g.line(p.th.ink, 2*m.line, point{e, y - thick}, point{e, y + thick})
	}
}

// textSize is that of names and values beside rows of a height.
func (l look) textSize(row float64) float64 {
	size := math.Min(l.m.text, 0.75*row)
	if l.style.Medium == Slide {
		return math.Max(size, l.m.small)
	}
	return size
}

// bar draws one row around the height y.
func (p *Bars) bar(g page, b bar, x axis, y, row float64) {
	m, th, end, thick, size := p.m, p.th, x.from, 0.3*row, p.textSize(row)
	switch {
	case b.spanned:
		p.span(g, b, x, y, thick)
		g.write(label{x: x.clip(b.hi) + 0.6*m.text, y: y + 0.34*size, size: size, colour: th.ink, text: b.text})
		return
	case math.IsNaN(b.value):
	case b.limit:
		end = x.at(b.value)
		r := 0.3 * size
		g.line(b.paint.edge, 1.6*m.line, point{x.from, y}, point{end, y})
		g.add(shape{runs: [][]point{{{end + r, y - r}, {end - r*0.6, y}, {end + r, y + r}}}, closed: true, fill: th.paper, stroke: b.paint.edge, width: 1.6 * m.line})
		end += r
	default:
		end = x.clip(b.value)
		g.swatch(box{x.from, y - thick, end, y + thick}, b.paint, 0.45*m.small, 0.5*m.line)
	}
	if !math.IsNaN(b.lo) && !math.IsNaN(b.hi) {
		lo, hi := x.clip(b.lo), x.clip(b.hi)
		g.line(th.paper, 5*m.line, point{lo, y}, point{hi, y})
		g.line(th.ink, 2*m.line, point{lo, y}, point{hi, y})
		for _, e := range []float64{lo, hi} {
			g.line(th.ink, 2*m.line, point{e, y - 0.5*thick}, point{e, y + 0.5*thick})
		}
		end = math.Max(end, hi)
	}
	g.write(label{x: end + 0.6*m.text, y: y + 0.34*size, size: size, colour: th.ink, text: b.text})
}
