package plots

import (
	"fmt"
	"math"
	"slices"
)

// changed is how many standard uncertainties make a difference worth a colour (PRACTICE: 3 σ).
const changed = 3

// Difference draws each scan minus the first on one linear scale, the offset named. Where the difference is beyond
// three standard uncertainties it is filled down to its zero line in the colour of the phase whose share changes most
// there: what goes points down, what comes points up. It returns ErrNoPoints for fewer than two comparable scans.
func Difference(traces []Trace, style Style, o StackOptions) (*Figure, error) {
	p, err := newStackPlot(traces, style, o)
	if err != nil {
		return nil, err
	}
	if len(p.traces) < 2 {
		return nil, fmt.Errorf("%w: a difference needs two scans of one radiation", ErrNoPoints)
	}
	first, rest := p.traces[0], p.traces[1:]
	diffs := make([][]difference, len(rest))
	least, most := 0.0, 0.0
	for k, t := range rest {
		diffs[k] = p.subtract(t, first)
		for _, d := range diffs[k] {
			least, most = math.Min(least, finite(d.value)), math.Max(most, finite(d.value))
		}
	}
	offset := niceStep(0.3 * math.Max(most-least, 1e-9))
	lo, hi := extent(diffs, offset)
	p.traces = rest // the margin names these
	p.layout(lo, hi)
	p.heading(fmt.Sprintf(p.sw.DifferenceTitle, first.name), fmt.Sprintf(p.sw.DifferenceNote, p.w.number(plain(round9(offset))), p.unit))
	p.frame(fmt.Sprintf(p.sw.DifferenceAxis, p.unit), newAxis(p.y.Min, offset, p.y.at(p.y.Min), p.y.at(offset), false).ticks(1.9*p.m.small, p.w))
	for k := len(rest) - 1; k >= 0; k-- {
		p.difference(rest[k].name, diffs[k], offset*float64(k))
	}
	p.lanes(true) // weak lines would not be seen otherwise
	return p.Figure, nil
}

// extent is what all differences cover, each raised.
func extent(diffs [][]difference, offset float64) (lo, hi float64) {
	for k, list := range diffs {
		for _, d := range list {
			v := finite(d.value) + offset*float64(k)
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	return lo, hi
}

// difference is one point of a scan minus the first.
type difference struct {
	twoTheta, value, u float64
	group              int // whose share changes most, of those that change by more than the noise; else their number
}

// subtract takes the first scan, interpolated, from another.
func (p *stackPlot) subtract(t, first stackTrace) []difference {
	out := make([]difference, 0, len(t.c.TwoTheta))
	mine, its := p.shares(t), p.shares(first)
	k := 0
	x := first.c.TwoTheta
	for i, angle := range t.c.TwoTheta {
		for k+2 < len(x) && x[k+1] < angle {
			k++
		}
		if angle < x[0] || angle > x[len(x)-1] {
			continue
		}
		w := math.Min(1, math.Max(0, (angle-x[k])/(x[k+1]-x[k])))
		at := func(col []float64) float64 { return (1-w)*col[k] + w*col[k+1] }
		d := difference{twoTheta: angle, value: t.scale*t.c.Observed[i] - first.scale*at(first.c.Observed), group: len(p.groups)}
		d.u = math.Hypot(t.scale*t.c.Sigma[i], first.scale*at(first.c.Sigma))
		if !(math.Abs(d.value) > changed*d.u) {
			out = append(out, d)
			continue
		}
		greatest := 0.0
		for g := range p.groups {
			change := 0.0
			if mine[g] != nil {
				change += t.scale * mine[g][i]
			}
			if its[g] != nil {
				change -= first.scale * at(its[g])
			}
			if change*d.value > 0 && math.Abs(change) > greatest {
				greatest, d.group = math.Abs(change), g
			}
		}
		out = append(out, d)
	}
	return out
}

// shares returns the curve of each group in a scan, nil where the scan lacks its phases.
func (p *stackPlot) shares(t stackTrace) [][]float64 {
	out := make([][]float64, len(p.groups))
	for i, ph := range t.doc.Phases {
		g := slices.IndexFunc(p.ids, func(ids []string) bool { return slotOf(ids, ph.ID) >= 0 })
		switch {
		case g < 0 || i >= len(t.c.Phases):
		case out[g] == nil:
			out[g] = t.c.Phases[i]
		default:
			sum := slices.Clone(out[g])
			for k, v := range t.c.Phases[i] {
				sum[k] += v
			}
			out[g] = sum
		}
	}
	return out
}

// difference draws one difference over its zero line.
func (p *stackPlot) difference(name string, d []difference, offset float64) {
	m := p.m
	if len(d) < 2 {
		return
	}
	zero := p.y.at(offset)
	angles, values := make([]float64, len(d)), make([]float64, len(d))
	bars := make([][][]point, len(p.groups))
	for i, q := range d {
		angles[i], values[i] = q.twoTheta, finite(q.value)
		if q.group < len(p.groups) {
			bars[q.group] = append(bars[q.group], p.bar(d, i, zero, offset))
		}
	}
	p.line(p.th.grid, p.hair, point{p.main.left, zero}, point{p.main.right, zero})
	for g, runs := range bars {
		p.add(shape{runs: runs, closed: true, fill: withAlpha(p.groups[g].paint.fill, 0.6)})
	}
	var line []point
	var owners []int
	for _, i := range decimate(p.x, angles, values, p.columnWidth()) {
		line = append(line, point{p.x.at(angles[i]), p.y.at(values[i] + offset)})
		owners = append(owners, d[i].group)
	}
	p.coloured(line, owners, 0.8*m.line)
	p.traceName(name, zero)
}

// bar is the area under one point, halfway to its neighbours.
func (p *stackPlot) bar(d []difference, i int, zero, offset float64) []point {
	from, to := d[max(0, i-1)].twoTheta, d[min(len(d)-1, i+1)].twoTheta
	left, right := p.x.at((from+d[i].twoTheta)/2), p.x.at((to+d[i].twoTheta)/2)
	y := p.y.at(d[i].value + offset)
	return slices.Clip([]point{{left, zero}, {left, y}, {right, y}, {right, zero}})
}
