package plots

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
)

// Lanes is a plotter of the expected lines of each phase over the angle, degrees 2θ: a lane each, the first on top, with a
// stick at every line, as long as the line is strong, and an open ring where a line is expected and missing. Lane k of n
// is centred at n − 1 − k, so that NominalY of a plot can name them.
type Lanes struct {
	look
	groups []group
	sqrt   bool // sticks are as long as the root of intensities
}

// NewLanes returns the plotter of a document's phases. Sticks are as long as intensities or, with sqrt, as their roots.
func NewLanes(r result.Analysis, style Style, sqrt bool) (*Lanes, error) {
	s, err := NewShares(r, style, 0, 0)
	if err != nil {
		return nil, err
	}
	return &Lanes{s.look, s.groups, sqrt}, nil
}

// DataRange returns the angles of the outermost lines and the places of the lanes.
func (l *Lanes) DataRange() (xmin, xmax, ymin, ymax float64) {
	xmin, xmax = math.Inf(1), math.Inf(-1)
	for _, g := range l.groups {
		for _, lines := range g.lines {
			for _, k := range lines {
				xmin, xmax = rangeOf(xmin, xmax, k.TwoTheta)
			}
		}
	}
	return xmin, xmax, -0.5, float64(len(l.groups)) - 0.5
}

// Names are those of the lanes from below, as NominalY of a plot takes them.
func (l *Lanes) Names() []string {
	out := make([]string, len(l.groups))
	for k, g := range l.groups {
		out[len(out)-1-k] = g.name
	}
	return out
}

// Legend returns the phases, the uppermost first.
func (l *Lanes) Legend() []LegendEntry { return legendOf(l.groups, l.look) }

// base is the foot of lane k on the page.
func (l *Lanes) base(y axis, k int) float64 { return y.at(float64(len(l.groups)-k) - 1.5) }

// Plot draws the lanes.
func (l *Lanes) Plot(c draw.Canvas, p *plot.Plot) {
	g, x, y := onCanvas(c, p)
	height := math.Abs(y.at(0) - y.at(1))
	for k, gr := range l.groups {
		base := l.base(y, k)
		g.line(l.th.grid, l.hair, point{x.from, base}, point{x.to, base})
		sticks, rings := l.sticks(gr, x, height)
		var runs [][]point
		for _, s := range sticks {
			runs = append(runs, []point{{s.x, base}, {s.x, base - s.y}})
		}
		g.add(shape{runs: runs, stroke: gr.paint.edge, width: 1.7 * l.m.line})
		for _, at := range rings {
			l.ring(g, at, base-0.5*height)
		}
	}
}

// sticks are places and lengths of the lines in a range, and the places of missing ones.
func (l *Lanes) sticks(g group, x axis, height float64) (sticks []point, rings []float64) {
	for _, lines := range g.lines {
		most := 0.0
		for _, k := range lines {
			most = math.Max(most, finite(k.Expected))
		}
		scale := newAxis(0, most, 0, 0.85*height, l.sqrt)
		for _, k := range lines {
			if !x.holds(k.TwoTheta) || !(k.Expected > 0.002*most) {
				continue
			}
			if at := x.at(k.TwoTheta); k.Verdict == result.LineMissing {
				rings = append(rings, at)
			} else {
				sticks = append(sticks, point{at, scale.clip(k.Expected)})
			}
		}
	}
	return sticks, rings
}

func (l *Lanes) ring(g page, x, y float64) {
	g.add(shape{runs: [][]point{circle(x, y, 0.3*l.m.small)}, closed: true, fill: l.th.paper, stroke: l.th.ink, width: 1.6 * l.hair})
}

// circle is a polygon of 16 corners, round enough at the size of a mark.
func circle(x, y, r float64) []point {
	out := make([]point, 16)
	for i := range out {
		s, c := math.Sincos(float64(i) * math.Pi / 8)
		out[i] = point{x + r*c, y + r*s}
	}
	return out
}

// lanes draws the lanes of the figure with their names, and explains the rings.
func (p *patternPlot) lanes(sqrt bool) {
	m, l := p.m, &Lanes{p.look, p.groups, sqrt}
	y := newAxis(-0.5, float64(len(p.groups))-0.5, p.lane.bottom, p.lane.top, false)
	p.put(l, p.x, y)
	for k, g := range p.groups {
		base, side, right := l.base(y, k), 0.85*m.small, p.lane.left-0.45*m.small
		p.swatch(box{right - side, base - side, right, base}, g.paint, 0.33*m.small, 0.6*p.hair)
		p.write(label{x: right - side - 0.35*m.small, y: base - 0.1*m.small, anchor: 1, size: m.small, colour: p.th.ink,
			text: fit(g.name, m.small, false, right-side-0.8*m.small)})
		if _, rings := l.sticks(g, p.x, p.laneHeight); len(rings) > 0 && !p.explained(p.w.Missing) {
			p.keys = append(p.keys, legendry{func(x, y float64) { l.ring(p.page, x, y) }, p.w.Missing})
		}
	}
}

func (p *patternPlot) explained(text string) bool {
	return slices.ContainsFunc(p.keys, func(k legendry) bool { return k.text == text })
}
