package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot"

	"phasetally/xrd/result"
)

// A Trace is one scan of a stack.
type Trace struct {
	Name   string          // what is written beside it
	Result result.Analysis // of the scan
}

// StackOptions steers Stack and Difference; its zero value draws the whole range.
type StackOptions struct {
	Lo, Hi float64              // degrees 2θ; both 0: all that any scan covers
	Total  int                  // scans of the series, when not all of them are given; 0: all are
	Order  []result.SeriesPhase // phases in the order of their colours; empty: of the first trace
}

// MaxTraces is how many scans a stack shows legibly.
const MaxTraces = 12

// Spread picks at most MaxTraces of n scans, evenly and with both ends.
func Spread(n int) []int {
	var out []int
	for k := range min(n, MaxTraces) {
		if n <= MaxTraces {
			out = append(out, k)
			continue
		}
		out = append(out, k*(n-1)/(MaxTraces-1))
	}
	return out
}

// Stack draws scans above each other on one square-root scale, none of them normalised, the first at the foot; the
// offset is named. Lanes show where each phase has its lines. Scans of another radiation than the first are left out,
// since their lines lie elsewhere; intensities are per second when counting times are known and differ.
func Stack(traces []Trace, style Style, o StackOptions) (*Figure, error) {
	p, err := newStackPlot(traces, style, o)
	if err != nil {
		return nil, err
	}
	tops := make([][]float64, len(p.traces))
	floor, most := math.Inf(1), 0.0
	for k, t := range p.traces {
		tops[k] = make([]float64, len(t.c.Observed))
		for i, v := range t.c.Observed {
			tops[k][i] = math.Sqrt(math.Max(0, finite(v))) * math.Sqrt(t.scale)
			floor, most = math.Min(floor, tops[k][i]), math.Max(most, tops[k][i])
		}
	}
	offset := niceStep(0.26 * math.Max(most-floor, 1e-9))
	p.layout(floor, most+offset*float64(len(p.traces)-1))
	unit := p.unit
	p.heading(p.sw.StackTitle, fmt.Sprintf(p.sw.StackNote, p.w.number(plain(round9(offset))), unit))
	p.frame(fmt.Sprintf(p.sw.StackAxis, unit), p.rootTicks(offset))
	for k := len(p.traces) - 1; k >= 0; k-- {
		p.trace(p.traces[k], tops[k], offset*float64(k))
	}
	p.lanes(true) // they follow the scale of the scans
	return p.Figure, nil
}

// stackTrace is a trace cut to the range.
type stackTrace struct {
	name  string
	c     result.Curves
	doc   result.Document
	scale float64 // what intensities are multiplied with
}

// stackPlot is a pattern plot, whose axes and lanes it uses, with several scans.
type stackPlot struct {
	*patternPlot
	sw      *SeriesWords
	traces  []stackTrace
	unit    string
	leftOut int
	ids     [][]string // of the phases of each group
}

func newStackPlot(traces []Trace, style Style, o StackOptions) (*stackPlot, error) {
	if len(traces) == 0 {
		return nil, fmt.Errorf("%w: no scan", ErrNoPoints)
	}
	lo, hi := o.Lo, o.Hi
	if lo == 0 && hi == 0 {
		lo, hi = math.Inf(-1), math.Inf(1)
	}
	p := &stackPlot{sw: style.seriesWords(), patternPlot: &patternPlot{doc: traces[0].Result.Document, Shares: &Shares{look: style.look()}}}
	height := p.m.height
	if style.Medium != Slide {
		height *= 1.25
	}
	p.Figure = newFigure(style, height)
	for _, t := range traces {
		c := cut(t.Result.Curves, lo, hi)
		if len(c.TwoTheta) < 2 || t.Result.Document.Scan.Wavelength != p.doc.Scan.Wavelength {
			p.leftOut++
			continue
		}
		p.traces = append(p.traces, stackTrace{t.Name, c, t.Result.Document, 1})
	}
	if len(p.traces) == 0 {
		return nil, fmt.Errorf("%w between %g° and %g°", ErrNoPoints, o.Lo, o.Hi)
	}
	p.perSecond()
	p.phases(o.Order)
	p.o.Title = p.counted(max(o.Total, len(traces)))
	return p, nil
}

// counted says how many of the scans are shown; "" when all are.
func (p *stackPlot) counted(total int) string {
	if len(p.traces) == total {
		return ""
	}
	s := fmt.Sprintf(p.sw.Shown, len(p.traces), total)
	if p.leftOut > 0 {
		s += ", " + fmt.Sprintf(p.sw.LeftOut, p.leftOut)
	}
	return s
}

// perSecond brings scans of different counting times to one unit.
func (p *stackPlot) perSecond() {
	p.unit = intensityUnit(p.doc.Scan, p.w)
	differ := false
	for _, t := range p.traces {
		s := t.doc.Scan
		if !known(s.CountingTimeS) || s.NoiseModel != "poisson" {
			return
		}
		differ = differ || *s.CountingTimeS != *p.traces[0].doc.Scan.CountingTimeS
	}
	if !differ {
		return
	}
	for k := range p.traces {
		p.traces[k].scale = 1 / *p.traces[k].doc.Scan.CountingTimeS
	}
	p.unit = p.sw.PerSecond
}

// phases gives each phase its lane, with the lines of the scan that has most of it; those without a colour share one. No
// line counts as missing, for that belongs to a single scan.
func (p *stackPlot) phases(order []result.SeriesPhase) {
	if len(order) == 0 {
		for _, ph := range p.doc.Phases {
			order = append(order, result.SeriesPhase{ID: ph.ID, Name: ph.Name})
		}
	}
	colours := Colouring(orderOf(order))
	rest := group{paint: p.style.paint(Colours)}
	var others []string
	for k, ph := range order {
		lines := p.linesOf(ph.ID)
		switch {
		case lines == nil:
		case k < Colours:
			p.groups = append(p.groups, group{p.w.phase(ph.Name), p.style.paint(colours[k]), [][]result.PhaseLine{lines}})
			p.ids = append(p.ids, []string{ph.ID})
		default:
			rest.lines, others, rest.name = append(rest.lines, lines), append(others, ph.ID), p.w.phase(ph.Name)
		}
	}
	if len(others) > 1 {
		rest.name = fmt.Sprintf(p.w.Others, len(others))
	}
	if len(others) > 0 {
		p.groups, p.ids = append(p.groups, rest), append(p.ids, others)
	}
}

// linesOf returns the lines of a phase in the scan that has most of it; nil when no scan has it.
func (p *stackPlot) linesOf(id string) (lines []result.PhaseLine) {
	most := math.Inf(-1)
	for _, t := range p.traces {
		i := slices.IndexFunc(t.doc.Phases, func(q result.Phase) bool { return strings.EqualFold(q.ID, id) })
		if i >= 0 && t.doc.Phases[i].Standing() > most {
			most, lines = t.doc.Phases[i].Standing(), slices.Clone(t.doc.Phases[i].Lines)
		}
	}
	for i := range lines {
		lines[i].Verdict = "" // of one scan, and the lanes stand for all
	}
	return lines
}

// layout decides where everything goes; lo and hi bound what the axis shows.
func (p *stackPlot) layout(lo, hi float64) {
	m := p.m
	names, right := 0.0, 0.0
	for _, g := range p.groups {
		names = math.Max(names, textWidth(clean(g.name), m.small, false))
	}
	for _, t := range p.traces {
		right = math.Max(right, textWidth(clean(t.name), m.small, false))
	}
	left := math.Max(math.Min(names, 0.17*m.width)+2.1*m.small, textWidth("10000", m.small, false)+1.9*m.text) + 0.5*m.text
	right = m.width - 1.1*m.text - math.Min(right, 0.2*m.width)
	bottom := p.Figure.height - 1.8*m.text - 1.5*m.small
	p.laneHeight = 1.75 * m.small
	p.lane = box{left, bottom - p.laneHeight*float64(len(p.groups)), right, bottom}
	p.main = box{left, 1.7*m.text + 4.4*m.small, right, p.lane.top - 0.5*m.small}
	p.res = p.lane
	from, to := math.Inf(1), math.Inf(-1)
	for _, t := range p.traces {
		from, to = math.Min(from, t.c.TwoTheta[0]), math.Max(to, t.c.TwoTheta[len(t.c.TwoTheta)-1])
	}
	p.x = newAxis(from, to, left, right, false)
	p.y = newAxis(lo, lo+1.02*math.Max(hi-lo, 1e-9), p.main.bottom, p.main.top, false)
}

func (p *stackPlot) heading(title, note string) {
	simulated := slices.ContainsFunc(p.traces, func(t stackTrace) bool { return t.doc.Scan.Simulated != "" })
	m, title := p.m, titled(simulated, title, p.w)
	p.title = title
	p.about = cmp.Or(p.o.Title, title) + ". " + note
	width := p.main.right - p.left()
	if p.o.Title != "" {
		note += "; " + p.o.Title
	}
	p.write(label{x: p.left(), y: 1.35 * m.text, size: m.text, bold: true, colour: p.th.ink, text: fit(title, m.text, true, m.width-2*p.left())})
	for i, s := range wrap(note, m.small, false, m.width-2*p.left()) {
		if i < 2 {
			p.write(label{x: p.left(), y: 1.35*m.text + (1.6+1.2*float64(i))*m.small, size: m.small, colour: p.th.quiet, text: fit(s, m.small, false, math.Max(width, 1e-9)+m.width-p.main.right-p.left())})
		}
	}
}

// rootTicks marks intensities of the lowest scan, as far as twice the offset, where others cover it.
func (p *stackPlot) rootTicks(offset float64) []plot.Tick {
	most := math.Min(p.y.Max, p.y.Min+2*offset)
	ticks := newAxis(p.y.Min*p.y.Min, most*most, p.y.at(p.y.Min), p.y.at(most), true).ticks(1.9*p.m.small, p.w)
	for i := range ticks {
		ticks[i].Value = math.Sqrt(ticks[i].Value)
	}
	return ticks
}

// frame draws the angles, the spacings on top, and on the left the scale of the lowest scan.
func (p *stackPlot) frame(title string, scale []plot.Tick) {
	m, th := p.m, p.th
	p.sideTitle(title, p.main)
	p.topAxis()
	for _, t := range scale {
		y := p.y.at(t.Value)
		p.line(th.ink, p.hair, point{p.main.left - 0.3*m.small, y}, point{p.main.left, y})
		p.write(label{x: p.main.left - 0.5*m.small, y: y + 0.35*m.small, anchor: 1, size: m.small, colour: th.quiet, text: t.Label})
	}
	p.line(th.ink, p.hair, point{p.main.left, p.main.bottom}, point{p.main.left, p.main.top})
	for _, t := range p.x.ticks(5.5*m.small, p.w) {
		x := p.x.at(t.Value)
		p.line(th.grid, p.hair, point{x, p.main.top}, point{x, p.lane.bottom})
		p.write(label{x: x, y: p.lane.bottom + 1.4*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: t.Label})
	}
	p.line(th.ink, p.hair, point{p.lane.left, p.lane.bottom}, point{p.lane.right, p.lane.bottom})
	p.write(label{x: (p.main.left + p.main.right) / 2, y: p.lane.bottom + 1.4*m.small + 1.35*m.text, anchor: 0.5, size: m.text,
		colour: th.ink, text: fmt.Sprintf(p.w.TwoTheta, p.w.number(tube(p.doc.Scan)))})
}

// trace draws one scan raised by an offset, in the colour of the phase that gives most where one stands out of the
// noise, and names it at its right end.
func (p *stackPlot) trace(t stackTrace, values []float64, offset float64) {
	m := p.m
	shares := p.shares(t)
	var line []point
	var owners []int
	for _, i := range decimate(p.x, t.c.TwoTheta, values, p.columnWidth()) {
		if !math.IsNaN(t.c.Observed[i]) {
			line = append(line, point{p.x.at(t.c.TwoTheta[i]), p.y.at(values[i] + offset)})
			owners = append(owners, standing(shares, i, t.c.Sigma[i]))
		}
	}
	p.coloured(line, owners, m.line)
	end := slices.Sorted(slices.Values(values[len(values)*9/10:]))
	p.traceName(t.name, p.y.at(end[len(end)/2]+offset))
}

// coloured draws a line whose points belong to groups; the number of groups stands for none.
func (p *stackPlot) coloured(line []point, owners []int, width float64) {
	runs := make([][][]point, len(p.groups)+1)
	for k, at := range line {
		g := owners[k]
		switch {
		case k > 0 && owners[k-1] == g:
			end := len(runs[g]) - 1
			runs[g][end] = append(runs[g][end], at)
		case k > 0:
			runs[g] = append(runs[g], []point{line[k-1], at})
		default:
			runs[g] = append(runs[g], []point{at})
		}
	}
	for g, r := range runs {
		stroke := p.th.curve
		if g < len(p.groups) {
			stroke = p.groups[g].paint.edge
		}
		p.add(shape{runs: r, stroke: stroke, width: width})
	}
}

// standing returns the group with the largest share at a point that is beyond three standard uncertainties, else the
// number of groups.
func standing(shares [][]float64, i int, u float64) int {
	g, most := len(shares), changed*u
	for k, s := range shares {
		if s != nil && s[i] > most {
			g, most = k, s[i]
		}
	}
	return g
}

func (p *stackPlot) traceName(name string, y float64) {
	m := p.m
	x := p.main.right + 0.5*m.small
	p.write(label{x: x, y: y + 0.35*m.small, size: m.small, colour: p.th.ink, text: fit(name, m.small, false, m.width-x-0.3*m.small)})
}
