package plots

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Answer returns the result in one short line, largest phase first: "fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6 wt%". Beyond
// four phases it names three and counts the rest.
func Answer(doc result.Document, w *Words) string {
	phases := slices.DeleteFunc(slices.Clone(doc.Phases), func(p result.Phase) bool { return p.Origin != "specimen" })
	if peaksOnly(doc) {
		return fmt.Sprintf(w.FoundPeaks, len(doc.Peaks))
	}
	if len(phases) == 0 {
		return w.NothingFound
	}
	slices.SortStableFunc(phases, func(a, b result.Phase) int { return cmp.Compare(b.Standing(), a.Standing()) })
	named := len(phases)
	if named > 4 {
		named = 3
	}
	var parts, unknown []string
	for _, p := range phases[:named] {
		name := w.phase(p.Name)
		if p.Evidence == result.Tentative {
			name += " (" + w.Tentative + ")"
		}
		if known(p.WeightPercent) {
			parts = append(parts, name+" "+w.number(titleAmount(doc, p, len(phases) == 1)))
		} else {
			unknown = append(unknown, name+" ("+w.Unknown+")")
		}
	}
	if len(parts) > 0 {
		unknown = append([]string{strings.Join(parts, ", ") + " " + w.WeightUnit}, unknown...)
	}
	if named < len(phases) {
		unknown = append(unknown, fmt.Sprintf(w.Others, len(phases)-named))
	}
	switch {
	case len(parts) > 0 && doc.PartOnly():
		unknown = append(unknown, w.Recognised)
	case len(parts) > 0 && doc.Absolute != nil: // beside a standard per cents may be of everything
		unknown = append(unknown, w.CrystallinePart)
	}
	return strings.Join(unknown, ", ")
}

// titleAmount is what a title says of a fraction: of a phase alone, which is 100 % by definition, how much it is at least.
func titleAmount(doc result.Document, p result.Phase, alone bool) string {
	n := Decimals(p.WeightPercentLo, p.WeightPercentHi)
	switch {
	case alone && known(p.WeightPercentLo):
		return "≥ " + Fixed(*p.WeightPercentLo, n)
	case doc.Spanned() && known(p.WeightPercentLo) && known(p.WeightPercentHi):
		return Fixed(*p.WeightPercentLo, n) + "–" + Fixed(*p.WeightPercentHi, n)
	}
	return PlusMinus(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi)
}

// tube names the radiation of a scan for an axis.
func tube(s result.Scan) string {
	if s.Radiation != "" && (s.Radiation[0] < '0' || s.Radiation[0] > '9') {
		return s.Radiation + " Kα"
	}
	return fmt.Sprintf("λ = %.4f Å", s.Wavelength)
}

// intensityUnit names the unit of a scan's intensities.
func intensityUnit(s result.Scan, w *Words) string {
	if s.NoiseModel == "poisson" {
		return w.Counts
	}
	return w.Intensity
}

// titled returns the title of a figure; one of a scan that was calculated says so first.
func titled(simulated bool, title string, w *Words) string {
	if !simulated {
		return title
	}
	return fmt.Sprintf(w.Simulated, title)
}

// answer is what stands over the figure.
func (p *patternPlot) answer() string {
	return titled(p.doc.Scan.Simulated != "", cmp.Or(p.o.Title, Answer(p.doc, p.w)), p.w)
}

// heading writes the answer, the sample under it, and the text alternatives.
func (p *patternPlot) heading() {
	title := p.answer()
	p.title = fmt.Sprintf(p.w.PatternTitle, title)
	p.about = fmt.Sprintf(p.w.PatternAbout,
		SampleName(p.doc.Scan), p.w.number(fmt.Sprintf("%.4g", p.x.Min)), p.w.number(fmt.Sprintf("%.4g", p.x.Max)), p.w.number(tube(p.doc.Scan)))
	m := p.m
	width := p.main.right - p.left()
	p.headline(p.look, p.left(), titleLines(title, m, width))
}

// titleLines breaks a title into at most three lines; what they cannot hold is cut.
func titleLines(title string, m measure, width float64) []string {
	lines := wrap(title, m.text, true, width)
	if len(lines) > 3 {
		lines = append(lines[:2], fit(strings.Join(lines[2:], " "), m.text, true, width))
	}
	return lines
}

// headline writes a title over everything.
func (g page) headline(l look, x float64, lines []string) {
	for i, s := range lines {
		g.write(label{x: x, y: (1.35 + titleStep*float64(i)) * l.m.text, size: l.m.text, bold: true, colour: l.th.ink, text: s})
	}
}

// titleStep is the distance of lines of a title, in sizes of its letters.
const titleStep = 1.25

func (p *patternPlot) left() float64 { return 0.6 * p.m.text }

// subtitle comes last, when it is known which marks occur.
func (p *patternPlot) subtitle() {
	m := p.m
	y := p.main.top - 2.3*m.small - 0.35*m.text
	x := p.main.right
	for _, k := range slices.Backward(p.keys) {
		w := textWidth(k.text, m.small, false)
		p.write(label{x: x, y: y, anchor: 1, size: m.small, colour: p.th.quiet, text: k.text})
		k.mark(x-w-0.9*m.small, y-0.36*m.small)
		x -= w + 2.2*m.small
	}
	about := SampleName(p.doc.Scan)
	p.write(label{x: p.left(), y: y, size: m.small, colour: p.th.quiet, text: fit(about, m.small, false, x-p.left()-m.small)})
}

// axes draws the frame of the main panel with intensity on the left, d on top, and 2θ under everything.
func (p *patternPlot) axes() {
	p.leftTicks(p.look, p.main, p.y, 1.9*p.m.small)
	scale := p.w.SqrtScale
	if p.o.Linear {
		scale = p.w.LinearScale
	}
	p.sideTitle(fmt.Sprintf(scale, intensityUnit(p.doc.Scan, p.w)), p.main)
	p.topAxis()
	p.footTicks(p.look, p.x, p.x.ticks(5.5*p.m.small, p.w), p.res.bottom)
	p.line(p.th.ink, p.hair, point{p.res.left, p.res.bottom}, point{p.res.right, p.res.bottom})
	p.footTitle(p.look, p.res, fmt.Sprintf(p.w.TwoTheta, p.w.number(tube(p.doc.Scan))))
}

// sideTitle writes an axis title upwards along the left edge of a panel, smaller if it must be.
func (p *patternPlot) sideTitle(s string, b box) {
	size := p.m.text
	if textWidth(s, size, false) > b.bottom-b.top {
		size = p.m.small
	}
	x := b.left - textWidth("10000", p.m.small, false) - 1.1*p.m.text
	p.write(label{x: x, y: (b.top + b.bottom) / 2, anchor: 0.5, size: size, vertical: true, colour: p.th.ink,
		text: fit(s, size, false, b.bottom-b.top)})
}

func (p *patternPlot) topAxis() {
	m := p.m
	p.line(p.th.ink, p.hair, point{p.main.left, p.main.top}, point{p.main.right, p.main.top})
	var angles []float64
	name := map[float64]string{}
	for _, d := range spacings {
		if t, ok := xrd.TwoTheta(d, p.doc.Scan.Wavelength); ok {
			angles = append(angles, t)
			name[t] = p.w.number(plain(d))
		}
	}
	title := p.w.DSpacing
	p.write(label{x: p.main.right, y: p.main.top - 0.6*m.small, anchor: 1, size: m.small, colour: p.th.ink, text: title})
	end := p.main.right - textWidth(title, m.small, false) - 1.2*m.small
	for _, t := range apart(p.x.Scale, p.x.Min, p.x.Max, angles, 3.2*m.small/(p.x.to-p.x.from)) {
		x := p.x.at(t)
		p.line(p.th.ink, p.hair, point{x, p.main.top}, point{x, p.main.top - 0.35*m.small})
		if x < end {
			p.write(label{x: x, y: p.main.top - 0.6*m.small, anchor: 0.5, size: m.small, colour: p.th.quiet, text: name[t]})
		}
	}
}

// maskNames names what the fit left out where there is room.
func (p *patternPlot) maskNames() {
	for _, m := range p.masked() {
		left, right := p.x.at(m[0]), p.x.at(m[1])
		name := label{x: (left + right) / 2, y: p.main.top + 1.1*p.m.small, anchor: 0.5, size: p.m.small, colour: p.th.quiet, text: p.w.Masked}
		if nb := name.box(); nb.left > left && nb.right < right {
			p.write(name)
			p.taken = append(p.taken, nb)
		}
	}
}
