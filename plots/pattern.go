package plots

import (
	"errors"
	"fmt"
	"math"

	"phasetally/xrd/result"
)

// ErrNoPoints says that the range of a figure holds too few points of the scan; test with errors.Is.
var ErrNoPoints = errors.New("no points to draw")

// PatternOptions steers Pattern; its zero value draws the whole scan with a square-root intensity axis.
type PatternOptions struct {
	Lo, Hi float64 // degrees 2θ; both 0: the whole scan
	Linear bool    // linear instead of square-root intensity
	HKL    bool    // write the reflections at the peaks that have room
	Title  string  // replaces the answer line

	Insets      [][2]float64 // ranges drawn again, enlarged, where there is room; at most MostInsets
	MinorInsets bool         // also ranges about lines of phases that the figure would hardly show
}

// Pattern draws the scan: observed points as a thin line, every phase's share as an area stacked on the background and
// named at its strongest free line, a lane of expected lines per phase, and the residual in units of its standard
// uncertainty. It returns ErrNoPoints when the range holds fewer than two points and ErrInsets for ranges that it cannot
// enlarge.
func Pattern(r result.Analysis, style Style, o PatternOptions) (*Figure, error) {
	p, err := newPatternPlot(r, style, o)
	if err != nil {
		return nil, err
	}
	p.layout()
	if err := p.planInsets(); err != nil {
		return nil, err
	}
	p.heading()
	p.axes()
	p.maskShading(p.main)
	total := p.areas()
	p.observed()
	p.crest(total) // over the observed line, or narrow peaks would lose their colour
	p.unexplained()
	if peaksOnly(p.doc) {
		p.fittedPeaks()
		p.peakLabels()
	}
	p.lanes()
	p.residual()
	p.drawInsets()
	p.names()
	if o.HKL {
		p.reflections()
	}
	return p.Figure, nil
}

// patternPlot carries what the parts of the pattern figure share.
type patternPlot struct {
	*Figure
	doc    result.Document
	c      result.Curves // cut to the range; phases grouped
	groups []group       // parallel to c.Phases
	style  Style
	o      PatternOptions
	m      measure
	th     theme
	w      *Words
	hair   float64 // thin line

	x, y            axis
	main, lane, res box
	laneHeight      float64
	keep            []int      // points to draw of calculated curves
	scan            []point    // the observed line
	skyline         []float64  // per column of one point: the least y that anything drawn reaches
	taken           []box      // labels placed so far
	keys            []legendry // marks explained under the title
	insets          []inset
}

// legendry is a mark that occurs and its meaning.
type legendry struct {
	mark func(x, y float64)
	text string
}

// A group is what gets one colour and one lane: a phase, or all the phases beyond the colours.
type group struct {
	name  string
	paint paint
	lines [][]result.PhaseLine // one list a phase
}

func newPatternPlot(r result.Analysis, style Style, o PatternOptions) (*patternPlot, error) {
	lo, hi := o.Lo, o.Hi
	if lo == 0 && hi == 0 {
		lo, hi = math.Inf(-1), math.Inf(1)
	}
	c := cut(r.Curves, lo, hi)
	if len(c.TwoTheta) < 2 {
		return nil, fmt.Errorf("%w between %g° and %g°", ErrNoPoints, o.Lo, o.Hi)
	}
	m := style.measure()
	if (len(o.Insets) > 0 || o.MinorInsets) && style.Medium != Slide {
		m.height *= 1.2 // room for them
	}
	p := &patternPlot{doc: r.Document, c: c, style: style, o: o, m: m, th: style.theme(), w: style.words(), hair: m.line * 0.8}
	p.Figure = newFigure(style, m.height)
	p.group()
	return p, nil
}

// cut returns the columns between two angles, sharing the data.
func cut(c result.Curves, lo, hi float64) result.Curves {
	i, j := 0, len(c.TwoTheta)
	for i < j && !(c.TwoTheta[i] >= lo) {
		i++
	}
	for j > i && !(c.TwoTheta[j-1] <= hi) {
		j--
	}
	out := result.Curves{TwoTheta: c.TwoTheta[i:j], Observed: c.Observed[i:j], Sigma: c.Sigma[i:j],
		Calculated: c.Calculated[i:j], Background: c.Background[i:j]}
	for _, p := range c.Phases {
		out.Phases = append(out.Phases, p[i:j])
	}
	if c.Masked != nil {
		out.Masked = c.Masked[i:j]
	}
	return out
}

// group gives each phase that has a colour its paint and sums the others into one.
func (p *patternPlot) group() {
	var shares [][]float64
	var others []int
	for i, slot := range Slots(p.doc) {
		if slot >= Colours {
			others = append(others, i)
			continue
		}
		ph := p.doc.Phases[i]
		p.groups = append(p.groups, group{ph.Name, p.style.paint(slot), [][]result.PhaseLine{ph.Lines}})
		shares = append(shares, p.c.Phases[i])
	}
	if len(others) > 0 {
		rest, sum := p.together(others)
		p.groups, shares = append(p.groups, rest), append(shares, sum)
	}
	p.c.Phases = shares
}

// together makes one group of several phases; a single one keeps its name.
func (p *patternPlot) together(phases []int) (group, []float64) {
	g := group{name: fmt.Sprintf(p.w.Others, len(phases)), paint: p.style.paint(Colours)}
	if len(phases) == 1 {
		g.name = p.doc.Phases[phases[0]].Name
	}
	sum := make([]float64, len(p.c.TwoTheta))
	for _, k := range phases {
		g.lines = append(g.lines, p.doc.Phases[k].Lines)
		for i, v := range p.c.Phases[k] {
			sum[i] += v
		}
	}
	return g, sum
}

// layout decides where everything goes, from the outside in.
func (p *patternPlot) layout() {
	m := p.m
	names := 0.0
	for _, g := range p.groups {
		names = math.Max(names, textWidth(clean(g.name), m.small, false))
	}
	names = math.Min(names, 0.17*m.width)
	ticks := textWidth("10000", m.small, false)
	left := math.Max(names+2.1*m.small, ticks+1.9*m.text) + 0.5*m.text
	right := m.width - 0.9*m.text
	top := 1.7*m.text + 3.9*m.small
	bottom := m.height - 1.8*m.text - 1.5*m.small
	p.laneHeight = math.Min(1.75*m.small, 0.3*m.height/math.Max(1, float64(len(p.groups))))
	resHeight := math.Max(0.15*m.height, 5.2*m.small)
	lanes := p.laneHeight * float64(len(p.groups))
	p.res = box{left, bottom - resHeight, right, bottom}
	p.lane = box{left, p.res.top - 1.5*m.small - lanes, right, p.res.top - 1.5*m.small}
	p.main = box{left, top, right, p.lane.top - 0.4*m.small}
	c := p.c
	p.x = axis{lo: c.TwoTheta[0], hi: c.TwoTheta[len(c.TwoTheta)-1], from: left, to: right}
	head := 1.6 * m.text
	if peaksOnly(p.doc) {
		head = 4.5 * m.small // for the angle of the strongest
	}
	p.y = axis{lo: 0, from: p.main.bottom, to: p.main.top + head, sqrt: !p.o.Linear}
	for i := range c.TwoTheta {
		p.y.hi = math.Max(p.y.hi, finite(math.Max(c.Observed[i], c.Calculated[i])))
		p.y.lo = math.Min(p.y.lo, finite(c.Observed[i]))
	}
	if !(p.y.hi > p.y.lo) {
		p.y.hi = p.y.lo + 1
	}
	p.keep = decimate(p.x, c.TwoTheta, c.Calculated, p.columnWidth())
	p.survey()
}

// columnWidth is a little less than what print or screen can separate.
func (p *patternPlot) columnWidth() float64 { return 0.8 * p.m.line }

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// decimate returns the indices to draw: in each column of the page the points where y is least and greatest, in order,
// so that no peak and no noise is lost while points that nobody could see apart are.
func decimate(x axis, twoTheta, y []float64, column float64) []int {
	var keep []int
	for i := 0; i < len(twoTheta); {
		col := math.Floor(x.at(twoTheta[i]) / column)
		least, most := i, i
		for ; i < len(twoTheta) && math.Floor(x.at(twoTheta[i])/column) == col; i++ {
			if y[i] < y[least] {
				least = i
			}
			if y[i] > y[most] {
				most = i
			}
		}
		keep = append(keep, min(least, most))
		if least != most {
			keep = append(keep, max(least, most))
		}
	}
	if last := len(twoTheta) - 1; keep[len(keep)-1] != last {
		keep = append(keep, last)
	}
	return keep
}

// areas stacks the phases on the background and returns the upper edge of the stack, parallel to p.keep.
func (p *patternPlot) areas() []point {
	base := make([]float64, len(p.keep))
	xs := make([]float64, len(p.keep))
	for k, i := range p.keep {
		xs[k], base[k] = p.x.at(p.c.TwoTheta[i]), finite(p.c.Background[i])
	}
	page := func(values []float64) []float64 {
		out := make([]float64, len(values))
		for k, v := range values {
			out[k] = p.y.clip(v)
		}
		return out
	}
	for g := range p.groups {
		top := make([]float64, len(base))
		for k, i := range p.keep {
			top[k] = base[k] + math.Max(0, finite(p.c.Phases[g][i]))
		}
		b := band{xs, page(base), page(top)}
		pt := p.groups[g].paint
		p.add(shape{runs: b.outline(0.12), closed: true, fill: withAlpha(pt.fill, 0.55)})
		p.pattern(b, pt, 0.42*p.m.small, 0.6*p.hair)
		base = top
	}
	bg, total := make([]point, len(p.keep)), make([]point, len(p.keep))
	for k, i := range p.keep {
		bg[k] = point{xs[k], p.y.clip(p.c.Background[i])}
		total[k] = point{xs[k], p.y.clip(base[k])}
	}
	p.add(shape{runs: [][]point{bg}, stroke: p.th.quiet, width: p.hair, dash: []float64{3 * p.hair, 2 * p.hair}})
	return total
}

// crest draws the edge of the stack in the colour of the phase that gives most there.
func (p *patternPlot) crest(total []point) {
	runs := make([][][]point, len(p.groups))
	last := -1
	for k, i := range p.keep {
		g := p.dominant(i)
		if p.y.clip(p.c.Background[i])-total[k].y < 0.12 {
			g = -1
		}
		switch {
		case g < 0:
		case g == last:
			end := len(runs[g]) - 1
			runs[g][end] = append(runs[g][end], total[k])
		default:
			runs[g] = append(runs[g], []point{total[max(k-1, 0)], total[k]})
		}
		last = g
	}
	for g, r := range runs {
		p.add(shape{runs: r, stroke: p.groups[g].paint.edge, width: 1.1 * p.m.line})
	}
}

// dominant returns the group with the largest share at a point; −1 when there is none.
func (p *patternPlot) dominant(i int) int {
	g, most := -1, 0.0
	for k := range p.groups {
		if v := p.c.Phases[k][i]; v > most {
			g, most = k, v
		}
	}
	return g
}

// observed draws the scan.
func (p *patternPlot) observed() {
	p.add(shape{runs: [][]point{p.scan}, stroke: mix(p.th.paper, p.th.curve, 0.85), width: p.m.line})
}

func (p *patternPlot) scanLine() (run []point) {
	for _, i := range decimate(p.x, p.c.TwoTheta, p.c.Observed, p.columnWidth()) {
		if v := p.c.Observed[i]; !math.IsNaN(v) {
			run = append(run, point{p.x.at(p.c.TwoTheta[i]), p.y.clip(v)})
		}
	}
	return run
}

// survey notes how high scan and fit reach in every column of one point.
func (p *patternPlot) survey() {
	p.skyline = make([]float64, int(p.m.width)+2)
	for i := range p.skyline {
		p.skyline[i] = p.main.bottom
	}
	p.scan = p.scanLine()
	for k, pt := range p.scan {
		p.raise(pt)
		if k > 0 {
			mid := point{(pt.x + p.scan[k-1].x) / 2, (pt.y + p.scan[k-1].y) / 2}
			p.raise(mid)
		}
	}
	for _, i := range p.keep {
		p.raise(point{p.x.at(p.c.TwoTheta[i]), p.y.clip(p.c.Calculated[i])})
	}
}

func (p *patternPlot) raise(pt point) {
	if k := int(pt.x); k >= 0 && k < len(p.skyline) {
		p.skyline[k] = math.Min(p.skyline[k], pt.y)
	}
}

// height returns the least y drawn between two x.
func (p *patternPlot) height(left, right float64) float64 {
	y := p.main.bottom
	for k := max(0, int(left)); k <= int(right) && k < len(p.skyline); k++ {
		y = math.Min(y, p.skyline[k])
	}
	return y
}

// unexplained marks peaks of no phase with an open lozenge above them.
func (p *patternPlot) unexplained() {
	r := 0.42 * p.m.small
	mark := func(x, y float64) {
		p.add(shape{runs: [][]point{{{x, y - r}, {x + r, y}, {x, y + r}, {x - r, y}}}, closed: true,
			fill: p.th.paper, stroke: p.th.alarm, width: 2 * p.hair})
	}
	some := false
	for _, u := range p.doc.UnexplainedPeaks {
		x := p.x.at(u.TwoTheta)
		if !(u.TwoTheta >= p.x.lo && u.TwoTheta <= p.x.hi) {
			continue
		}
		y := p.height(x-r, x+r) - 1.6*r
		mark(x, y)
		p.taken = append(p.taken, box{x - r, y - r, x + r, y + r})
		some = true
	}
	if some {
		p.keys = append(p.keys, legendry{mark, p.w.Unexplained})
	}
}
