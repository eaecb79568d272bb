package plots

import (
	"fmt"
	"math"

	"phasetally/xrd/result"
)

// bar is one row of a figure of horizontal bars.
type bar struct {
	name, text    string
	value, lo, hi float64 // NaN: unknown
	limit         bool    // value is a limit, drawn as an open mark
	paint         paint
}

// maxLimits is how many phases that were not seen a figure lists before it counts the rest.
const maxLimits = 6

// Fractions draws weight fractions as horizontal bars with their 95 % intervals and values, then the phases that were
// asked for and not seen as open marks at their limits.
func Fractions(doc result.Document, style Style) (*Figure, error) {
	w := style.words()
	var bars []bar
	rest := 0
	slots := Slots(doc)
	for i, p := range doc.Phases {
		if i >= 3*Colours {
			rest++
			continue
		}
		bars = append(bars, phaseBar(p, style.paint(slots[i]), w))
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
		b := bar{name: n.Name, value: math.NaN(), lo: math.NaN(), hi: math.NaN(), limit: true, paint: style.paint(slotOf(doc.PhaseOrder, n.ID)), text: w.Unknown}
		if known(n.DetectionLimit) {
			b.value, b.text = *n.DetectionLimit, fmt.Sprintf(w.NotSeen, Limit(*n.DetectionLimit))
		}
		bars = append(bars, b)
	}
	note := ""
	if rest > 0 {
		note = fmt.Sprintf(w.More, rest)
	}
	f := barChart(style, bars, Answer(doc, w), w.WeightAxis, note)
	f.title = fmt.Sprintf(w.FractionsTitle, Answer(doc, w))
	f.about = w.FractionsAbout
	return f, nil
}

func phaseBar(p result.Phase, pt paint, w *Words) bar {
	b := bar{name: p.Name, value: math.NaN(), lo: math.NaN(), hi: math.NaN(), paint: pt, text: w.Unknown}
	if p.Origin != "specimen" && p.Origin != "" {
		b.name = fmt.Sprintf(w.NotSpecimen, p.Name+" ("+w.term(p.Origin)+")")
	}
	if known(p.WeightPercent) {
		b.value = *p.WeightPercent
		b.text = Amount(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi) + " " + w.WeightUnit
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
	head, foot := 2.6*m.text, 4.2*m.small
	height := head + row*math.Max(1, float64(len(bars))) + foot
	if style.Medium == Slide {
		height = m.height
		row = math.Min(4*m.text, (height-head-foot)/math.Max(1, float64(len(bars))))
	}
	f := newFigure(style, height)
	hair := 0.8 * m.line
	left := 0.6 * m.text
	f.write(label{x: left, y: 1.35 * m.text, size: m.text, bold: true, colour: th.ink, text: fit(title, m.text, true, m.width-2*left)})
	size := math.Min(m.text, 0.75*row)
	if style.Medium == Slide {
		size = math.Max(size, m.small)
	}
	x := barAxis(bars, m, left, size)
	bottom := head + row*float64(len(bars))
	for _, v := range x.ticks(4.5 * m.small) {
		f.line(th.grid, hair, point{x.at(v), head}, point{x.at(v), bottom + 0.3*m.small})
		f.write(label{x: x.at(v), y: bottom + 1.5*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: plain(v)})
	}
	for k, b := range bars {
		f.bar(b, x, head+row*(float64(k)+0.5), row, size, m, th)
	}
	f.line(th.ink, hair, point{x.from, head}, point{x.from, bottom})
	for i, s := range wrap(axisTitle, m.small, false, m.width-2*left) {
		f.write(label{x: left, y: bottom + 3.1*m.small + 1.25*m.small*float64(i), size: m.small, colour: th.ink, text: s})
	}
	f.write(label{x: m.width - left, y: bottom + 3.1*m.small, anchor: 1, size: m.small, colour: th.quiet, text: note})
	return f
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
	return axis{lo: 0, hi: most, from: from, to: math.Max(m.width-left-values-1.2*m.text, from+0.15*m.width)}
}

// bar draws one row around the height y.
func (f *Figure) bar(b bar, x axis, y, row, size float64, m measure, th theme) {
	f.write(label{x: x.from - 0.5*m.text, y: y + 0.34*size, anchor: 1, size: size, colour: th.ink, text: fit(b.name, size, false, x.from-m.text)})
	end := x.from
	thick := 0.3 * row
	switch {
	case math.IsNaN(b.value):
	case b.limit:
		end = x.at(b.value)
		r := 0.3 * size
		f.line(b.paint.edge, 1.6*m.line, point{x.from, y}, point{end, y})
		f.add(shape{runs: [][]point{{{end + r, y - r}, {end - r*0.6, y}, {end + r, y + r}}}, closed: true, fill: th.paper, stroke: b.paint.edge, width: 1.6 * m.line})
		end += r
	default:
		end = x.clip(b.value)
		f.swatch(box{x.from, y - thick, end, y + thick}, b.paint, 0.45*m.small, 0.5*m.line)
	}
	if !math.IsNaN(b.lo) && !math.IsNaN(b.hi) {
		lo, hi := x.clip(b.lo), x.clip(b.hi)
		f.line(th.paper, 5*m.line, point{lo, y}, point{hi, y})
		f.line(th.ink, 2*m.line, point{lo, y}, point{hi, y})
		for _, e := range []float64{lo, hi} {
			f.line(th.ink, 2*m.line, point{e, y - 0.5*thick}, point{e, y + 0.5*thick})
		}
		end = math.Max(end, hi)
	}
	f.write(label{x: end + 0.6*m.text, y: y + 0.34*size, size: size, colour: th.ink, text: b.text})
}
