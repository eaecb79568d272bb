package plots

import (
	"errors"
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
	p.maskNames()
	p.put(p.Shares, p.x, p.y)
	p.unexplained()
	if peaksOnly(p.doc) {
		p.fittedPeaks()
		p.peakLabels()
	}
	p.lanes(!o.Linear)
	p.residual()
	p.drawInsets()
	if o.HKL {
		p.reflections() // before the names, which find another place
	}
	p.names()
	return p.Figure, nil
}

// patternPlot carries what the parts of the pattern figure share.
type patternPlot struct {
	*Figure
	*Shares
	doc result.Document
	o   PatternOptions

	x, y            axis
	main, lane, res box
	laneHeight      float64
	keep            []int      // points to draw of calculated curves
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

func newPatternPlot(r result.Analysis, style Style, o PatternOptions) (*patternPlot, error) {
	shares, err := NewShares(r, style, o.Lo, o.Hi)
	if err != nil {
		return nil, err
	}
	if (len(o.Insets) > 0 || o.MinorInsets) && style.Medium != Slide {
		shares.m.height *= 1.2 // room for them
	}
	return &patternPlot{Figure: newFigure(style, shares.m.height), Shares: shares, doc: r.Document, o: o}, nil
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
	title := titleLines(p.answer(), m, right-p.left())
	top := (1.7+titleStep*float64(len(title)-1))*m.text + 3.9*m.small
	bottom := m.height - 1.8*m.text - 1.5*m.small
	p.laneHeight = math.Min(1.75*m.small, 0.3*m.height/math.Max(1, float64(len(p.groups))))
	resHeight := math.Max(0.15*m.height, 5.2*m.small)
	lanes := p.laneHeight * float64(len(p.groups))
	p.res = box{left, bottom - resHeight, right, bottom}
	p.lane = box{left, p.res.top - 1.5*m.small - lanes, right, p.res.top - 1.5*m.small}
	p.main = box{left, top, right, p.lane.top - 0.4*m.small}
	lo, hi, least, most := p.DataRange()
	head := 1.6 * m.text
	switch {
	case peaksOnly(p.doc):
		head = 4.5 * m.small // for the angle of the strongest
	case p.o.HKL:
		head = 4*m.small + 1.6*m.text // for indices and name of the strongest
	}
	p.x = newAxis(lo, hi, left, right, false)
	p.y = newAxis(least, most, p.main.bottom, p.main.top+head, !p.o.Linear)
	p.keep = decimate(p.x, p.c.TwoTheta, p.c.Calculated, p.columnWidth())
	p.survey()
}

// survey notes how high scan and fit reach in every column of one point.
func (p *patternPlot) survey() {
	p.skyline = make([]float64, int(p.m.width)+2)
	for i := range p.skyline {
		p.skyline[i] = p.main.bottom
	}
	scan := p.scanLine(p.x, p.y)
	for k, pt := range scan {
		p.raise(pt)
		if k > 0 {
			mid := point{(pt.x + scan[k-1].x) / 2, (pt.y + scan[k-1].y) / 2}
			p.raise(mid)
		}
	}
	for _, i := range p.keep {
		p.raise(point{p.x.at(p.c.TwoTheta[i]), p.y.clip(p.c.Calculated[i])})
	}
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
		if !p.x.holds(u.TwoTheta) {
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
