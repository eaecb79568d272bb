package plots

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
)

// trendPoint is one scan of one phase's trend.
type trendPoint struct {
	x, value, lo, hi float64 // NaN: unknown
	limit            bool    // value is a limit
}

// trend is one phase over the series, in the order of x.
type trend struct {
	name   string
	paint  paint
	points []trendPoint
}

// Trend draws the weight fraction of each phase over the scans: a line with its 95 % ribbon and its name at the end, and
// an open mark at the limit of a scan that does not show the phase. It runs along the condition that the series has
// chosen, else along the number of the scan. Scans that share a place are marks with whiskers, not joined.
func Trend(s result.Series, style Style) (*Figure, error) {
	t, err := NewTrends(s, style)
	if err != nil {
		return nil, err
	}
	p := &trendPlot{Figure: newFigure(style, t.m.height), Trends: t}
	p.title = titled(slices.ContainsFunc(s.Scans, func(e result.SeriesEntry) bool { return e.Simulated != "" }), p.sw.TrendTitle, style.words())
	p.frame()
	p.put(t, p.x, p.y)
	p.labels()
	return p.Figure, nil
}

// Trends is a plotter of weight fractions, wt%, over a condition or the number of the scan: a line for each phase with its
// 95 % ribbon, an open mark at the limit of a scan that does not show it.
type Trends struct {
	look
	sw      *SeriesWords
	trends  []trend
	joined  bool   // no two scans share a place
	marks   bool   // few enough to mark each scan
	median  int    // scans behind one point, at most; 0: every point is a scan
	under   string // name of the abscissa
	counted bool   // it is the number of the scan
	spanned bool   // intervals run between two limits of absorption
	partly  bool   // scans are explained in part only
}

// trendPlot is the figure around the plotter.
type trendPlot struct {
	*Figure
	*Trends
	x, y  axis
	panel box
}

// mostMarked is how many scans a trend marks one by one.
const mostMarked = 60

// NewTrends returns the plotter of a series along the condition that it has chosen, else along the number of the scan. It
// returns ErrNoPoints when no scan has a fraction.
func NewTrends(s result.Series, style Style) (*Trends, error) {
	p := &Trends{look: style.look(), sw: style.seriesWords(), joined: true, marks: len(s.Scans) <= mostMarked}
	p.counted = s.Abscissa == ""
	p.under = cmp.Or(s.Abscissa, p.sw.ScanNumber)
	colours := Colouring(orderOf(s.Phases))
	p.spanned = slices.ContainsFunc(s.Scans, result.SeriesEntry.Spanned)
	p.partly = slices.ContainsFunc(s.Scans, func(e result.SeriesEntry) bool { return e.Verdict == result.Partial })
	for k, ph := range s.Phases[:min(len(s.Phases), Colours)] {
		t := trend{name: p.w.phase(ph.Name), paint: style.paint(colours[k])}
		for i, e := range s.Scans {
			if k < len(e.Phases) && p.placed(e) {
				if pt, ok := trendPointOf(e, e.Phases[k], i); ok {
					t.points = append(t.points, pt)
				}
			}
		}
		p.keep(t)
	}
	if others := len(s.Phases) - Colours; others > 0 {
		t := trend{name: fmt.Sprintf(p.w.Others, others), paint: style.paint(Colours)}
		if others == 1 {
			t.name = p.w.phase(s.Phases[Colours].Name)
		}
		for i, e := range s.Scans {
			if pt, ok := sumPoint(e, i); ok && p.placed(e) {
				t.points = append(t.points, pt)
			}
		}
		p.keep(t)
	}
	if len(p.trends) == 0 {
		return nil, fmt.Errorf("%w: no scan of the series has a fraction", ErrNoPoints)
	}
	return p, nil
}

// orderOf are the ids of the phases of a series.
func orderOf(phases []result.SeriesPhase) []string {
	var out []string
	for _, p := range phases {
		out = append(out, p.ID)
	}
	return out
}

// placed reports whether it is known where a scan lies along the trend.
func (p *Trends) placed(e result.SeriesEntry) bool { return p.counted || known(e.Abscissa) }

// keep adds a trend, its points in order, unless all that is known of it are limits.
func (p *Trends) keep(t trend) {
	slices.SortStableFunc(t.points, func(a, b trendPoint) int { return cmp.Compare(a.x, b.x) })
	if len(t.points) > mostPoints {
		var most int
		t.points, most = medians(t.points)
		p.median = max(p.median, most)
	}
	for i := 1; i < len(t.points); i++ {
		p.joined = p.joined && t.points[i].x > t.points[i-1].x
	}
	if slices.ContainsFunc(t.points, func(q trendPoint) bool { return !q.limit }) {
		p.trends = append(p.trends, t)
	}
}

// sumPoint adds up the phases without a colour. Their sum has no interval unless it is one phase, since a table of a
// series does not keep how they vary together.
func sumPoint(e result.SeriesEntry, i int) (sum trendPoint, ok bool) {
	if len(e.Phases) <= Colours {
		return sum, false
	}
	for k, share := range e.Phases[Colours:] {
		pt, some := trendPointOf(e, share, i)
		switch {
		case !some || pt.limit && ok:
		case !ok || sum.limit:
			sum, ok = pt, true
		default:
			sum.value += pt.value
		}
		if k > 0 {
			sum.lo, sum.hi = math.NaN(), math.NaN()
		}
	}
	return sum, ok
}

// trendPointOf leaves out what has neither a fraction nor a limit.
func trendPointOf(e result.SeriesEntry, share result.SeriesShare, i int) (trendPoint, bool) {
	pt := trendPoint{x: float64(i + 1), value: math.NaN(), lo: math.NaN(), hi: math.NaN(), limit: !share.Detected}
	if known(e.Abscissa) {
		pt.x = *e.Abscissa
	}
	v := share.WeightPercent
	if pt.limit {
		v = share.DetectionLimit
	}
	if !known(v) {
		return pt, false
	}
	pt.value = *v
	if !pt.limit && known(share.WeightPercentLo) && known(share.WeightPercentHi) {
		pt.lo, pt.hi = *share.WeightPercentLo, *share.WeightPercentHi
	}
	return pt, true
}

// frame draws the axes; the right margin is as wide as the longest name.
func (p *trendPlot) frame() {
	m := p.m
	p.about = fmt.Sprintf(p.sw.TrendAbout, clean(p.under))
	names := 0.0
	for _, t := range p.trends {
		names = math.Max(names, textWidth(clean(t.name), m.text, false))
	}
	names = math.Min(names, 0.26*m.width)
	p.panel = box{0.6*m.text + 1.4*m.text + textWidth("100", m.small, false) + 0.5*m.small, 2.4*m.text + 1.9*m.small, m.width - names - 2.6*m.text, m.height - 1.8*m.text - 1.9*m.small}
	lo, hi, _, most := p.DataRange()
	inset := 0.7 * m.small // room for marks at both ends
	p.x = newAxis(lo, hi, p.panel.left+inset, p.panel.right-inset, false)
	p.y = newAxis(0, most, p.panel.bottom, p.panel.top, false)
	p.leftTicks(p.look, p.panel, p.y, 3.4*m.small)
	p.line(p.th.ink, p.hair, point{p.panel.left, p.panel.bottom}, point{p.panel.right, p.panel.bottom})
	p.footTicks(p.look, p.x, p.abscissae(), p.panel.bottom)
	p.footTitle(p.look, p.panel, p.under)
	title := p.sw.WeightAxis
	if p.partly {
		title = p.sw.PartAxis
	}
	p.write(label{x: 0.6*m.text + m.text, y: (p.panel.top + p.panel.bottom) / 2, anchor: 0.5, size: m.text, vertical: true, colour: p.th.ink,
		text: fit(title, m.text, false, p.panel.bottom-p.panel.top)})
	p.write(label{x: 0.6 * m.text, y: 1.35 * m.text, size: m.text, bold: true, colour: p.th.ink, text: fit(p.Figure.title, m.text, true, m.width-1.2*m.text)})
}

// abscissae are the ticks along the bottom: whole numbers when scans are only counted.
func (p *trendPlot) abscissae() []plot.Tick {
	ticks := p.x.ticks(5.5*p.m.small, p.w)
	if p.counted {
		ticks = slices.DeleteFunc(ticks, func(t plot.Tick) bool { return t.Value != math.Trunc(t.Value) })
	}
	return ticks
}

// stretches are the runs of a trend between scans that lack the phase.
func (t trend) stretches() [][]trendPoint {
	var out [][]trendPoint
	open := false
	for _, q := range t.points {
		if q.limit {
			open = false
			continue
		}
		if !open {
			out = append(out, nil)
			open = true
		}
		out[len(out)-1] = append(out[len(out)-1], q)
	}
	return out
}

// DataRange returns the places of the scans, and 0 to a little more than all that is known of the phases.
func (p *Trends) DataRange() (xmin, xmax, ymin, ymax float64) {
	xmin, xmax = math.Inf(1), math.Inf(-1)
	for _, t := range p.trends {
		for _, q := range t.points {
			xmin, xmax = math.Min(xmin, q.x), math.Max(xmax, q.x)
			ymax = math.Max(ymax, math.Max(q.value, finite(q.hi)))
		}
	}
	if !(xmax > xmin) {
		xmin, xmax = xmin-0.5, xmax+0.5
	}
	if !(ymax > 0) {
		ymax = 1
	}
	return xmin, xmax, 0, 1.04 * ymax
}

// Legend returns the phases that some scan shows.
func (p *Trends) Legend() []LegendEntry {
	var out []LegendEntry
	for _, t := range p.trends {
		out = append(out, LegendEntry{t.name, t.paint, p.look})
	}
	return out
}

// limits reports whether some mark is a limit.
func (p *Trends) limits() bool {
	for _, t := range p.trends {
		if slices.ContainsFunc(t.points, func(q trendPoint) bool { return q.limit }) {
			return true
		}
	}
	return false
}

// Plot draws the ribbons and over them lines and marks.
func (p *Trends) Plot(c draw.Canvas, plt *plot.Plot) {
	g, x, y := onCanvas(c, plt)
	for _, t := range p.trends {
		p.ribbon(g, t, x, y)
	}
	for _, t := range p.trends {
		p.curve(g, t, x, y)
	}
}

func (p *Trends) ribbon(g page, t trend, x, y axis) {
	if !p.joined {
		return
	}
	var runs [][]point
	for _, s := range t.stretches() {
		var up, down []point
		for _, q := range s {
			if !math.IsNaN(q.lo + q.hi) {
				up, down = append(up, point{x.at(q.x), y.clip(q.hi)}), append(down, point{x.at(q.x), y.clip(q.lo)})
			}
		}
		slices.Reverse(down)
		if run := append(up, down...); len(run) > 2 {
			runs = append(runs, run)
		}
	}
	band := shape{runs: runs, closed: true, fill: withAlpha(t.paint.fill, 0.3)}
	if p.spanned { // an own kind of band: what lies between two limits, not a spread about the line
		band.stroke, band.width, band.dash = t.paint.edge, 1.2*p.m.line, []float64{3 * p.m.line, 3 * p.m.line}
	}
	g.add(band)
}

// curve draws the line, dashed where it leads to a limit, and the marks of a phase.
func (p *Trends) curve(g page, t trend, x, y axis) {
	m := p.m
	if p.joined {
		var solid, dashed [][]point
		for i := 1; i < len(t.points); i++ {
			a, b := t.points[i-1], t.points[i]
			piece := []point{{x.at(a.x), y.clip(a.value)}, {x.at(b.x), y.clip(b.value)}}
			switch {
			case a.limit && b.limit:
			case a.limit || b.limit:
				dashed = append(dashed, piece)
			case len(solid) > 0 && i > 1 && !t.points[i-2].limit:
				solid[len(solid)-1] = append(solid[len(solid)-1], piece[1])
			default:
				solid = append(solid, piece)
			}
		}
		g.add(shape{runs: solid, stroke: t.paint.edge, width: 2.4 * m.line})
		g.add(shape{runs: dashed, stroke: t.paint.edge, width: 1.8 * m.line, dash: []float64{4 * m.line, 4 * m.line}})
	}
	for i, q := range t.points {
		p.mark(g, t, q, !p.joined || t.alone(i), x, y)
	}
}

// alone reports whether no scan beside a point shows the phase, so that no ribbon tells its interval.
func (t trend) alone(i int) bool {
	return (i == 0 || t.points[i-1].limit) && (i == len(t.points)-1 || t.points[i+1].limit)
}

func (p *Trends) mark(g page, t trend, q trendPoint, whiskers bool, x, y axis) {
	m := p.m
	at, height, r := x.at(q.x), y.clip(q.value), 0.32*m.small
	if q.limit {
		g.add(limitMark(at, height, r, p.th.paper, t.paint.edge, 2.2*m.line))
		return
	}
	if whiskers && !math.IsNaN(q.lo+q.hi) {
		whisker := shape{runs: [][]point{{{at, y.clip(q.lo)}, {at, y.clip(q.hi)}}}, stroke: t.paint.edge, width: 1.6 * m.line}
		if p.spanned {
			whisker.dash = []float64{3 * m.line, 3 * m.line}
		}
		g.add(whisker)
	}
	if p.marks || !p.joined {
		g.add(shape{runs: [][]point{circle(at, height, r)}, closed: true, fill: t.paint.edge, stroke: p.th.paper, width: 1.2 * m.line})
	}
}

// limitMark is an open triangle that points down: the amount is below.
func limitMark(x, y, r float64, fill, stroke color.NRGBA, width float64) shape {
	return shape{runs: [][]point{{{x - 1.2*r, y - r}, {x + 1.2*r, y - r}, {x, y + r}}}, closed: true, fill: fill, stroke: stroke, width: width}
}

// labels name each phase at the right, moved apart where lines end close together, and explain the open marks.
func (p *trendPlot) labels() {
	m := p.m
	rows := make([]spreadRow, len(p.trends))
	for i, t := range p.trends {
		rows[i] = spreadRow{index: i, want: p.y.clip(t.points[len(t.points)-1].value)}
	}
	for _, r := range spreadRows(rows, 1.25*m.text, p.panel.top+0.5*m.text, p.panel.bottom-0.1*m.text) {
		t := p.trends[r.index]
		end := t.points[len(t.points)-1]
		x := p.panel.right + 1.4*m.text
		p.line(t.paint.edge, p.hair, point{p.x.at(end.x) + 0.5*m.small, r.want}, point{x - 0.3*m.text, r.at})
		p.write(label{x: x, y: r.at + 0.35*m.text, size: m.text, colour: legible(t.paint.fill, p.th.paper, 4.5), text: fit(t.name, m.text, false, m.width-x-0.4*m.text)})
	}
	y := 1.35*m.text + 1.7*m.small
	x := 0.6 * m.text
	note := p.sw.Ribbon
	switch {
	case p.spanned && p.joined:
		note = p.sw.RibbonSpan
	case p.spanned:
		note = p.sw.WhiskersSpan
	case !p.joined:
		note = p.sw.Whiskers
	}
	if p.median > 0 {
		note += "; " + fmt.Sprintf(p.sw.Medians, p.median)
	}
	p.write(label{x: x, y: y, size: m.small, colour: p.th.quiet, text: note})
	if p.limits() {
		x += textWidth(note, m.small, false) + 2*m.small
		p.add(limitMark(x, y-0.3*m.small, 0.32*m.small, p.th.paper, p.th.quiet, 1.6*m.line))
		p.write(label{x: x + 0.8*m.small, y: y, size: m.small, colour: p.th.quiet, text: p.sw.LimitMark})
	}
}

// spreadRow is a label that wants to be at a height and is put as near as others allow.
type spreadRow struct {
	index    int
	want, at float64
}

// spreadRows moves rows apart to at least gap, keeping their order and staying between top and bottom when all fit.
func spreadRows(rows []spreadRow, gap, top, bottom float64) []spreadRow {
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b spreadRow) int { return cmp.Compare(a.want, b.want) })
	if n := float64(len(rows) - 1); n > 0 && n*gap > bottom-top {
		gap = (bottom - top) / n
	}
	for i := range rows {
		rows[i].at = math.Max(rows[i].want, top)
		if i > 0 {
			rows[i].at = math.Max(rows[i].at, rows[i-1].at+gap)
		}
	}
	floor := bottom
	for i := len(rows) - 1; i >= 0; i-- {
		rows[i].at = math.Min(rows[i].at, floor)
		floor = rows[i].at - gap
	}
	return rows
}

// Plain prints a number as briefly as it can be, with a true minus sign, as axes do.
func Plain(v float64) string { return plain(v) }
