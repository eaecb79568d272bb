package plots

import (
	"math"

	"phasetally/xrd/result"
)

// Missing reports whether a line stands clear of other phases, should have been seen at five standard uncertainties,
// and was not seen at three.
func Missing(l result.PhaseLine) bool {
	return l.Own && known(l.Observed) && known(l.ObservedU) && *l.ObservedU > 0 &&
		l.Expected >= 5**l.ObservedU && *l.Observed < 3**l.ObservedU
}

// lanes draws one strip per phase with a stick at each expected line; a stick is as long as the line is strong, on the
// scale of the intensity axis.
func (p *patternPlot) lanes() {
	m := p.m
	r := 0.3 * m.small
	ring := func(x, y float64) {
		p.add(shape{runs: [][]point{circle(x, y, r)}, closed: true, fill: p.th.paper, stroke: p.th.ink, width: 1.6 * p.hair})
	}
	some := false
	for k, g := range p.groups {
		base := p.lane.top + float64(k+1)*p.laneHeight
		p.line(p.th.grid, p.hair, point{p.lane.left, base}, point{p.lane.right, base})
		sticks, rings := p.sticks(g, base)
		p.add(shape{runs: sticks, stroke: g.paint.edge, width: 1.7 * m.line})
		for _, c := range rings {
			ring(c.x, c.y)
			some = true
		}
		side := 0.85 * m.small
		right := p.lane.left - 0.45*m.small
		p.swatch(box{right - side, base - side, right, base}, g.paint, 0.33*m.small, 0.6*p.hair)
		p.write(label{x: right - side - 0.35*m.small, y: base - 0.1*m.small, anchor: 1, size: m.small, colour: p.th.ink,
			text: fit(g.name, m.small, false, right-side-0.8*m.small)})
	}
	if some {
		p.keys = append(p.keys, legendry{ring, p.w.Missing})
	}
}

func (p *patternPlot) sticks(g group, base float64) (sticks [][]point, rings []point) {
	for _, lines := range g.lines {
		most := 0.0
		for _, l := range lines {
			most = math.Max(most, finite(l.Expected))
		}
		scale := axis{lo: 0, hi: most, from: 0, to: 0.85 * p.laneHeight, sqrt: p.y.sqrt}
		for _, l := range lines {
			if !(l.TwoTheta >= p.x.lo && l.TwoTheta <= p.x.hi) || !(l.Expected > 0.002*most) {
				continue
			}
			x := p.x.at(l.TwoTheta)
			if Missing(l) {
				rings = append(rings, point{x, base - 0.5*p.laneHeight})
				continue
			}
			sticks = append(sticks, []point{{x, base}, {x, base - scale.clip(l.Expected)}})
		}
	}
	return sticks, rings
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
