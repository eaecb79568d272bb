package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/result"
)

// maxStickPhases is how many phases one stick figure holds legibly.
const maxStickPhases = 12

// Sticks draws the reference lines of phases of one beam, a panel each: a stick at every line, its length the
// intensity, the strongest lines with their indices. It returns ErrNoPoints for phases without lines.
func Sticks(phases []refdata.Phase, style Style) (*Figure, error) {
	shown := phases[:min(len(phases), maxStickPhases)]
	m, th, w := style.measure(), style.theme(), style.words()
	lo, hi := angles(shown)
	if !(hi > lo) {
		return nil, ErrNoPoints
	}
	panel := math.Max(9*m.small, m.height/2.2)
	if len(shown) > 1 {
		panel = math.Max(9*m.small, (m.height-4*m.text)/float64(len(shown)))
	}
	f := newFigure(style, panel*float64(len(shown))+4.5*m.text)
	f.title, f.about = w.Lines, w.LinesAbout
	f.rect(box{0, 0, f.width, f.height}, th.paper)
	x := newAxis(lo, hi, 3*m.text, m.width-m.text, false)
	var ids []string
	for _, p := range shown {
		ids = append(ids, p.ID)
	}
	colours, beam := Colouring(ids), shown[0].Beam.Radiation
	for i, p := range shown {
		top := 0.6*m.text + float64(i)*panel
		f.stickPanel(p, style.paint(colours[i]), style, x, box{x.from, top, x.to, top + panel - 0.6*m.small})
	}
	base := f.height - 3.6*m.text
	for _, t := range x.ticks(5.5*m.small, w) {
		at := x.at(t.Value)
		f.line(th.ink, 0.5, point{at, base}, point{at, base + 0.35*m.small})
		f.write(label{x: at, y: base + 1.5*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: t.Label})
	}
	f.write(label{x: (x.from + x.to) / 2, y: base + 1.5*m.small + 1.4*m.text, anchor: 0.5, size: m.text, colour: th.ink,
		text: fmt.Sprintf(w.TwoTheta, w.number(tube(result.Scan{Radiation: beam.Name, Wavelength: beam.KAlpha1})))})
	if n := len(phases) - len(shown); n > 0 {
		f.write(label{x: x.to, y: base + 1.5*m.small + 1.4*m.text, anchor: 1, size: m.small, colour: th.quiet, text: fmt.Sprintf(w.More, n)})
	}
	return f, nil
}

// angles returns a range of round angles that holds every line.
func angles(phases []refdata.Phase) (lo, hi float64) {
	lo = math.Inf(1)
	for _, p := range phases {
		for _, l := range p.Lines {
			lo, hi = math.Min(lo, l.TwoTheta), math.Max(hi, l.TwoTheta)
		}
	}
	return math.Max(0, 5*math.Floor(lo/5-0.4)), 5 * math.Ceil(hi/5)
}

// stickPanel draws one phase: name on top, sticks, and indices over those that have room, strongest first.
func (f *Figure) stickPanel(p refdata.Phase, c paint, style Style, x axis, b box) {
	m, th := style.measure(), style.theme()
	name := label{x: b.right, y: b.top + m.text, anchor: 1, size: m.text, bold: true, colour: th.ink, text: style.words().phase(p.Name) + "  " + Subscripts(p.Formula)}
	f.write(name)
	most := 0.0
	for _, l := range p.Lines {
		most = math.Max(most, l.Intensity)
	}
	y := newAxis(0, most, b.bottom, b.top+2.6*m.text, false)
	f.line(th.grid, 0.5, point{b.left, b.bottom}, point{b.right, b.bottom})
	var runs [][]point
	taken := []box{name.box()}
	for _, i := range byIntensity(p.Lines) {
		l := p.Lines[i]
		at := point{x.at(l.TwoTheta), y.at(l.Intensity)}
		runs = append(runs, []point{{at.x, b.bottom}, at})
		if len(l.Families) == 0 || l.Intensity < 0.02*most {
			continue
		}
		hkl := label{x: at.x, y: at.y - 0.3*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: familyName(l.Families[0])}
		if hb := hkl.box().grow(1); !meetsAny(hb, taken) && hb.left > 0 && hb.right < f.width {
			taken = append(taken, hb)
			f.write(hkl)
		}
		taken = append(taken, box{at.x - 0.5, at.y, at.x + 0.5, b.bottom})
	}
	f.add(shape{runs: runs, stroke: c.edge, width: 2.2 * m.line})
}

func familyName(f refdata.Family) string { return fmt.Sprintf("%d %d %d", f.H, f.K, f.L) }

func meetsAny(b box, taken []box) bool {
	return slices.ContainsFunc(taken, b.meets)
}

func byIntensity(lines []refdata.Line) []int {
	order := make([]int, len(lines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(lines[b].Intensity, lines[a].Intensity) })
	return order
}
