package plots

import (
	"fmt"
	"image/color"
	"math"
	"slices"

	"phasetally/xrd/result"
)

// Calibration draws what the scan of a standard tells of the diffractometer, two panels over 2θ: the full width at half
// maximum of its lines with the width curve, and how far lines lie off their certified places with the shift of zero and
// displacement and its 95 % band.
func Calibration(r result.Calibration, style Style) (*Figure, error) {
	m, th := style.measure(), style.theme()
	p := &calibrationPlot{look: style.look(), r: r, mark: style.paint(0).edge, Figure: newFigure(style, m.height)}
	p.title = titled(r.Simulated, fmt.Sprintf(p.w.CalibrationTitle, style.words().phase(r.Standard)), p.w)
	p.about = fmt.Sprintf(p.w.CalibrationAbout, len(r.Lines), plain(round9(r.Range[0])), plain(round9(r.Range[1])))
	left, right := 0.6*m.text+2.4*m.text+textWidth("−0.0000", m.small, false), m.width-1.2*m.text
	top, bottom := 2.4*m.text+1.9*m.small, m.height-2.2*m.small-1.6*m.text
	middle := (top + bottom) / 2
	p.x = newAxis(r.Range[0], r.Range[1], left, right, false)
	p.write(label{x: 0.6 * m.text, y: 1.35 * m.text, size: m.text, bold: true, colour: th.ink,
		text: fit(p.title, m.text, true, right-0.6*m.text)})
	p.keys(right, 1.35*m.text+1.6*m.small)
	p.panels(box{left, top, right, middle - 0.6*m.text}, box{left, middle + 0.6*m.text, right, bottom})
	return p.Figure, nil
}

type calibrationPlot struct {
	*Figure
	look
	r    result.Calibration
	mark color.NRGBA
	x    axis
}

// spot is one observed value with its 95 % interval.
type spot struct{ at, value, u float64 }

// keys explain the marks, right-aligned over the panels.
func (p *calibrationPlot) keys(right, y float64) {
	m := p.m
	text := p.w.CalibrationFitted
	p.write(label{x: right, y: y, anchor: 1, size: m.small, colour: p.th.quiet, text: text})
	x := right - textWidth(text, m.small, false) - 0.5*m.small
	p.line(p.th.ink, 2*m.line, point{x - 1.6*m.small, y - 0.33*m.small}, point{x, y - 0.33*m.small})
	seen := p.w.CalibrationSeen
	x -= 3*m.small + textWidth(seen, m.small, false)
	p.write(label{x: x, y: y, size: m.small, colour: p.th.quiet, text: seen})
	p.dot(x-0.8*m.small, y-0.33*m.small)
}

// panels draws widths above and shifts below.
func (p *calibrationPlot) panels(above, below box) {
	var widths, shifts, widthCurve, shiftCurve []spot
	for _, l := range p.r.Lines {
		widths = append(widths, spot{l.Certified, l.FWHM, l.FWHMU})
		shifts = append(shifts, spot{l.Certified, l.Delta, l.ObservedU})
	}
	for _, c := range p.r.Curve {
		widthCurve = append(widthCurve, spot{c.TwoTheta, c.FWHM, c.FWHMU})
		shiftCurve = append(shiftCurve, spot{c.TwoTheta, c.Shift, c.ShiftU})
	}
	p.panel(above, p.w.CalibrationWidth, widths, widthCurve, 0, false)
	p.panel(below, p.w.CalibrationShift, shifts, shiftCurve, math.Inf(1), true)
}

// panel draws a frame, a curve with its band, and spots. floor is a value that the axis must reach down to; +Inf none.
func (p *calibrationPlot) panel(b box, title string, spots, curve []spot, floor float64, last bool) {
	m := p.m
	lo, hi := reach(spots, curve, floor)
	y := newAxis(lo, hi, b.bottom, b.top, false)
	p.leftTicks(p.look, b, y, 2.2*m.small)
	p.curve(y, curve)
	for _, s := range told(spots) {
		x := p.x.at(s.at)
		p.line(p.mark, 1.6*m.line, point{x, y.clip(s.value - whisker*s.u)}, point{x, y.clip(s.value + whisker*s.u)})
		if v := y.at(s.value); v >= b.top && v <= b.bottom {
			p.dot(x, v)
		}
	}
	p.line(p.th.ink, p.hair, point{b.left, b.top}, point{b.left, b.bottom}, point{b.right, b.bottom})
	p.write(label{x: 0.6*m.text + m.text, y: (b.top + b.bottom) / 2, anchor: 0.5, size: m.text, vertical: true, colour: p.th.ink,
		text: fit(title, m.text, false, b.bottom-b.top)})
	ticks := p.x.ticks(5.5*m.small, p.w)
	if !last {
		for i := range ticks {
			ticks[i].Label = ""
		}
	}
	p.footTicks(p.look, p.x, ticks, b.bottom)
	if last {
		p.footTitle(p.look, b, fmt.Sprintf(p.w.TwoTheta, p.w.number(tubeOf(p.r))))
	}
}

// told leaves out what is not a number.
func told(spots []spot) []spot {
	return slices.DeleteFunc(slices.Clone(spots), func(s spot) bool {
		sum := s.at + s.value + s.u
		return math.IsNaN(sum) || math.IsInf(sum, 0)
	})
}

// whisker is the half length of a 95 % interval in standard uncertainties.
const whisker = 1.96

// curve draws a line over its 95 % band.
func (p *calibrationPlot) curve(y axis, curve []spot) {
	curve = told(curve)
	var line, upper, lower []point
	for i, c := range curve {
		line = append(line, point{p.x.at(c.at), y.clip(c.value)})
		upper = append(upper, point{p.x.at(c.at), y.clip(c.value + whisker*c.u)})
		k := curve[len(curve)-1-i]
		lower = append(lower, point{p.x.at(k.at), y.clip(k.value - whisker*k.u)})
	}
	p.add(shape{runs: [][]point{append(upper, lower...)}, closed: true, fill: p.th.shade})
	p.line(p.th.ink, 2*p.m.line, line...)
}

// dot draws a small filled circle.
func (p *calibrationPlot) dot(x, y float64) {
	p.add(shape{runs: [][]point{circle(x, y, 0.28*p.m.small)}, closed: true, fill: p.mark, stroke: p.th.paper, width: p.m.line})
}

// reach returns the ends of an axis for values and their curve, with a margin. Whiskers of weak lines may leave it.
func reach(spots, curve []spot, floor float64) (lo, hi float64) {
	lo, hi = floor, math.Inf(-1)
	for _, s := range told(append(slices.Clone(spots), curve...)) {
		lo, hi = math.Min(lo, s.value), math.Max(hi, s.value)
	}
	switch {
	case hi == lo:
		return lo - 1, hi + 1
	case !(hi > lo):
		return 0, 1
	}
	margin := 0.1 * (hi - lo)
	if lo == floor {
		return lo, hi + margin
	}
	return lo - margin, hi + margin
}

// tubeOf names the radiation for an axis.
func tubeOf(r result.Calibration) string {
	if n := r.Radiation.Name; n != "" && (n[0] < '0' || n[0] > '9') {
		return n + " Kα"
	}
	return fmt.Sprintf("λ = %.4f Å", r.Radiation.KAlpha1)
}
