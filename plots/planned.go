package plots

import (
	"fmt"
	"math"

	"phasetally/xrd/result"
)

// PlannedPattern draws the scan as a plan expects it, with counting noise.
func PlannedPattern(p result.Plan, style Style) (*Figure, error) {
	p.Drawn.Document.Scan.Sample = style.words().PlanScan
	return Pattern(p.Drawn, style, PatternOptions{Title: style.words().PlanScan})
}

// Depths draws from how deep the signal of each phase comes: a bar to the depth of 95 %, a whisker from that of 50 % to that of
// 99 %, at the strongest line of the phase and in the phase itself.
func Depths(p result.Plan, style Style) *Figure {
	w := style.words()
	var bars []bar
	slots := Slots(p.Drawn.Document) // as in the pattern
	for i, ph := range p.Phases[:min(len(p.Phases), len(slots), Colours)] {
		d := ph.DepthUM
		bars = append(bars, bar{name: w.phase(ph.Name), value: d[1], lo: d[0], hi: d[2], paint: style.paint(slots[i]), text: decimal(fmt.Sprintf("%.2g µm", d[1]), w.Decimal)})
	}
	note := ""
	if l := p.Specimen.LayerUM; l != nil {
		note = fmt.Sprintf(w.DepthLayer, decimal(fmt.Sprintf("%g", *l), w.Decimal))
	}
	f := barChart(style, bars, w.DepthTitle, w.DepthAxis, note)
	f.title, f.about = w.DepthTitle, w.DepthAbout
	return f
}

// FootprintFigure draws the beam over the outline of the specimen, seen from above, one drawing an angle: where the beam is longer,
// its ends stand out in the colour of alarm. It returns nil where the slit does not say how long the beam is.
func FootprintFigure(p result.Plan, style Style) *Figure {
	rows := p.Footprint.Rows
	if len(rows) == 0 {
		return nil
	}
	for len(rows) > 8 { // every second angle is enough
		var half []result.FootprintRow
		for i := 0; i < len(rows); i += 2 {
			half = append(half, rows[i])
		}
		rows = half
	}
	m, th, w := style.measure(), style.theme(), style.words()
	row, head, foot := 2.6*m.text, 2.6*m.text, 3.6*m.small
	f := newFigure(style, head+row*float64(len(rows))+foot)
	f.title, f.about = w.FootprintTitle, w.FootprintAbout
	longest := rows[0].LengthMM
	length := longest
	if l := p.Specimen.LengthMM; l != nil {
		length = *l
		longest = math.Max(longest, length)
	}
	told, wide := footprintTexts(rows, m, w)
	left, right := 5*m.text, m.width-0.6*m.text-wide
	x := newAxis(-0.55*longest, 0.55*longest, left, right, false)
	f.write(label{x: 0.6 * m.text, y: 1.35 * m.text, size: m.text, bold: true, colour: th.ink, text: fit(w.FootprintTitle, m.text, true, m.width-1.2*m.text)})
	pt := style.paint(0)
	hair := 0.8 * m.line
	for k, r := range rows {
		middle := head + row*(float64(k)+0.5)
		f.write(label{x: left - 0.6*m.text, y: middle + 0.34*m.text, anchor: 1, size: m.text, colour: th.ink, text: decimal(fmt.Sprintf("%g°", r.TwoTheta), w.Decimal)})
		outline := box{x.at(-length / 2), middle - 0.42*row, x.at(length / 2), middle + 0.42*row}
		f.rect(outline, th.shade)
		half, inside := r.LengthMM/2, math.Min(r.LengthMM, length)/2
		f.rect(box{x.at(-half), middle - 0.2*row, x.at(half), middle + 0.2*row}, th.alarm)
		f.rect(box{x.at(-inside), middle - 0.2*row, x.at(inside), middle + 0.2*row}, pt.fill)
		f.add(shape{runs: [][]point{corners(outline)}, closed: true, stroke: th.ink, width: hair})
		f.write(label{x: right + 0.6*m.text, y: middle + 0.34*m.small, size: m.small, colour: th.quiet, text: told[k]})
	}
	bottom := head + row*float64(len(rows))
	for _, t := range x.ticks(4.5*m.small, style.words()) {
		f.line(th.ink, hair, point{x.at(t.Value), bottom}, point{x.at(t.Value), bottom + 0.3*m.small})
		f.write(label{x: x.at(t.Value), y: bottom + 1.4*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: t.Label})
	}
	f.write(label{x: (left + right) / 2, y: bottom + 2.9*m.small, anchor: 0.5, size: m.small, colour: th.ink, text: w.FootprintAxis})
	return f
}

// footprintTexts says of each angle how long the beam is and how much of it is on the specimen, and returns the room that the texts need
// at the right.
func footprintTexts(rows []result.FootprintRow, m measure, w *Words) (texts []string, wide float64) {
	wide = 8.4 * m.text
	for _, r := range rows {
		s := fmt.Sprintf(w.FootprintRow, decimal(fmt.Sprintf("%.1f", r.LengthMM), w.Decimal), fmt.Sprintf("%.0f", 100*r.Share))
		texts, wide = append(texts, s), math.Max(wide, textWidth(clean(s), m.small, false)+0.4*m.text)
	}
	return texts, wide
}
