package plots

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// ErrNoPhase says that a document has no phase of that id; test with errors.Is.
var ErrNoPhase = errors.New("no such phase in the result")

// maxEvidence is how many lines the evidence figure shows, the strongest expected ones.
const maxEvidence = 24

// Evidence draws, for each line of a phase in order of angle, the observed over the expected intensity with its 95 %
// interval on a logarithmic axis: a random powder lies along 1, texture and overlap stand out at a glance. Lines that
// overlap others are open; missing ones are arrows at the foot. Ids are matched without regard to case.
func Evidence(doc result.Document, id string, style Style) (*Figure, error) {
	slots := Slots(doc)
	for i, p := range doc.Phases {
		if strings.EqualFold(p.ID, id) {
			e := newEvidencePlot(doc, p, style, style.paint(slots[i]))
			return e.draw(), nil
		}
	}
	return nil, fmt.Errorf("%w: %q", ErrNoPhase, id)
}

type evidencePlot struct {
	*Figure
	look
	heading []string
	phase   result.Phase
	lines   []result.PhaseLine
	paint   paint
	panel   box
	y       axis // log10 of the ratio
}

func newEvidencePlot(doc result.Document, ph result.Phase, style Style, pt paint) *evidencePlot {
	m := style.measure()
	e := &evidencePlot{look: style.look(), phase: ph, lines: Strongest(expected(ph.Lines), maxEvidence), paint: pt}
	height := m.height
	if style.Medium != Slide {
		height *= 0.75
	}
	title := titled(doc.Scan.Simulated != "", fmt.Sprintf(e.w.Texture, e.w.phase(ph.Name)), e.w)
	e.Figure = newFigure(style, height)
	e.title, e.about = title, e.w.EvidenceAbout
	e.heading = titleLines(title, m, m.width-1.2*m.text)
	e.panel = box{0.6*m.text + 3.4*m.small + 1.6*m.text, (3.2 + titleStep*float64(len(e.heading)-1)) * m.text, m.width - m.text, height - 5.5*m.small}
	lo, hi := -0.5, 0.5
	for _, l := range e.lines {
		if r, _, ok := ratio(l); ok && l.Verdict != result.LineMissing {
			lo, hi = math.Min(lo, math.Log10(r)-0.1), math.Max(hi, math.Log10(r)+0.1)
		}
	}
	e.y = newAxis(math.Max(lo, -1.5)-0.05, math.Min(hi, 1.5)+0.05, e.panel.bottom, e.panel.top, false)
	return e
}

// Strongest keeps the n lines of greatest expected intensity, the first of equal ones, in their order.
func Strongest(lines []result.PhaseLine, n int) []result.PhaseLine {
	order := make([]int, len(lines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(finite(lines[b].Expected), finite(lines[a].Expected)) })
	order = order[:min(len(order), n)]
	slices.Sort(order)
	out := make([]result.PhaseLine, len(order))
	for k, i := range order {
		out[k] = lines[i]
	}
	return out
}

// expected keeps the lines that should be there.
func expected(lines []result.PhaseLine) []result.PhaseLine {
	return slices.DeleteFunc(slices.Clone(lines), func(l result.PhaseLine) bool { return !(l.Expected > 0) })
}

// ratio returns observed over expected and its standard uncertainty; ok is false where nothing usable was observed.
func ratio(l result.PhaseLine) (r, u float64, ok bool) {
	if !known(l.Observed) || !(l.Expected > 0) || !(*l.Observed > 0) {
		return 0, 0, false
	}
	if known(l.ObservedU) {
		u = *l.ObservedU / l.Expected
	}
	return *l.Observed / l.Expected, u, true
}

func (e *evidencePlot) draw() *Figure {
	m, th := e.m, e.th
	e.headline(e.look, 0.6*m.text, e.heading)
	for _, v := range []float64{0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20} {
		y := math.Log10(v)
		if !e.y.holds(y) {
			continue
		}
		colour, width := th.grid, e.hair
		if v == 1 {
			colour, width = th.ink, 1.4*e.hair
		}
		e.line(colour, width, point{e.panel.left, e.y.at(y)}, point{e.panel.right, e.y.at(y)})
		e.write(label{x: e.panel.left - 0.4*m.small, y: e.y.at(y) + 0.35*m.small, anchor: 1, size: m.small, colour: th.quiet, text: e.w.number(plain(v))})
	}
	e.write(label{x: 1.3 * m.text, y: (e.panel.top + e.panel.bottom) / 2, anchor: 0.5, size: m.text, vertical: true, colour: th.ink,
		text: fit(e.w.ObservedAxis, m.text, false, e.panel.bottom-e.panel.top)})
	pitch := (e.panel.right - e.panel.left) / math.Max(1, float64(len(e.lines)))
	for k, l := range e.lines {
		e.mark(l, e.panel.left+(float64(k)+0.5)*pitch, pitch)
	}
	e.key()
	return e.Figure
}

// mark draws one line of the phase and names it below.
func (e *evidencePlot) mark(l result.PhaseLine, x, pitch float64) {
	m := e.m
	r := math.Min(0.42*m.small, 0.35*pitch)
	if size := m.small; pitch >= 1.05*size {
		name := HKL(l)
		if name == "" {
			name = e.w.number(Fixed(l.D, 3)) + " Å"
		}
		e.write(label{x: x + 0.35*size, y: e.panel.bottom + 0.8*size, anchor: 1, size: size, vertical: true, colour: e.th.quiet, text: name})
	}
	q, u, ok := ratio(l)
	switch {
	case l.Verdict == result.LineMissing || !ok:
		y := e.panel.bottom - r
		e.add(shape{runs: [][]point{{{x - r, y - r}, {x + r, y - r}, {x, y + r}}}, closed: true, fill: e.th.paper, stroke: e.th.ink, width: 1.5 * e.hair})
		return
	case u > 0:
		lo, hi := e.y.clip(math.Log10(math.Max(q-1.96*u, 1e-6))), e.y.clip(math.Log10(q+1.96*u))
		e.line(e.paint.edge, 1.5*e.hair, point{x, lo}, point{x, hi})
	}
	fill := e.paint.fill
	if !l.Own {
		fill = e.th.paper
	}
	e.add(shape{runs: [][]point{circle(x, e.y.clip(math.Log10(q)), r)}, closed: true, fill: fill, stroke: e.paint.edge, width: 1.5 * e.hair})
}

// key explains the three marks under the title.
func (e *evidencePlot) key() {
	m := e.m
	x, y, r := 0.6*m.text+0.5*m.small, e.panel.top-1.85*m.text+1.7*m.small, 0.42*m.small
	for i, text := range []string{e.w.OwnLine, e.w.SharedLine, e.w.Missing} {
		mark := shape{runs: [][]point{circle(x, y-0.35*m.small, r)}, closed: true, fill: e.paint.fill, stroke: e.paint.edge, width: 1.5 * e.hair}
		switch i {
		case 1:
			mark.fill = e.th.paper
		case 2:
			c := y - 0.35*m.small
			mark.runs, mark.fill, mark.stroke = [][]point{{{x - r, c - r}, {x + r, c - r}, {x, c + r}}}, e.th.paper, e.th.ink
		}
		e.add(mark)
		e.write(label{x: x + 0.8*m.small, y: y, size: m.small, colour: e.th.quiet, text: text})
		x += 2.2*m.small + textWidth(text, m.small, false)
	}
}
