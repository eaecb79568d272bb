package plots

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
)

// MostInsets is how many enlarged ranges fit a pattern figure legibly.
const MostInsets = 3

// ErrInsets says that a figure cannot show the enlarged ranges asked for; test with errors.Is.
var ErrInsets = errors.New("ranges that cannot be enlarged")

// An inset is a range drawn again, larger, where the panel is free.
type inset struct {
	lo, hi float64 // degrees 2θ
	frame  box
}

// insetRanges checks the ranges asked for, or chooses those of minor phases, left to right.
func (p *patternPlot) insetRanges() ([]inset, error) {
	ranges := slices.Clone(p.o.Insets)
	if p.o.MinorInsets {
		ranges = p.minorRanges(ranges)
	}
	if len(ranges) > MostInsets {
		return nil, fmt.Errorf("%w: %d, at most %d", ErrInsets, len(ranges), MostInsets)
	}
	slices.SortFunc(ranges, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	var out []inset
	for _, r := range ranges {
		lo, hi := math.Max(r[0], p.x.Min), math.Min(r[1], p.x.Max)
		if len(cut(p.c, lo, hi).TwoTheta) < 5 {
			return nil, fmt.Errorf("%w: the figure has fewer than five points between %g° and %g°", ErrInsets, r[0], r[1])
		}
		out = append(out, inset{lo: lo, hi: hi})
	}
	return out, nil
}

// A phase is minor when its best line rises less than this share of the panel.
const minorShare = 0.2

// minorRanges adds to the ranges asked for, until there are two, those around a line of each phase that the panel hardly
// shows, weakest phase first, without neighbours so strong that enlarging would not help.
func (p *patternPlot) minorRanges(out [][2]float64) [][2]float64 {
	type minor struct {
		span [2]float64
		rise float64
	}
	var all []minor
	for g := range p.groups {
		lines := p.clearLines(g)
		if len(lines) == 0 || p.rise(lines[0], p.c.Phases[g][lines[0]]) >= minorShare*(p.main.bottom-p.main.top) {
			continue
		}
		for _, i := range lines {
			rise := p.rise(i, p.c.Phases[g][i])
			if span, ok := p.around(p.c.TwoTheta[i], rise); ok {
				all = append(all, minor{span, rise})
				break
			}
		}
	}
	slices.SortStableFunc(all, func(a, b minor) int { return cmp.Compare(a.rise, b.rise) })
	for _, k := range all {
		apart := func(r [2]float64) bool { return k.span[0] > r[1] || k.span[1] < r[0] }
		if len(out) < 2 && !slices.ContainsFunc(out, func(r [2]float64) bool { return !apart(r) }) {
			out = append(out, k.span)
		}
	}
	return out
}

// clearLines returns the points where a phase stands out of noise and neighbours, the best first.
func (p *patternPlot) clearLines(g int) []int {
	share := p.c.Phases[g]
	value := map[int]float64{}
	var out []int
	for i := 1; i+1 < len(share); i++ {
		purity := share[i] / math.Max(p.c.Calculated[i]-p.c.Background[i], 1e-12)
		if share[i] > share[i-1] && share[i] >= share[i+1] && share[i] > 2*p.c.Sigma[i] && purity > 0.5 {
			value[i] = share[i] * purity * purity
			out = append(out, i)
		}
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(value[b], value[a]) })
	return out[:min(len(out), 8)]
}

// rise is how high a share stands on the page above the background.
func (p *patternPlot) rise(i int, share float64) float64 {
	return p.y.clip(p.c.Background[i]) - p.y.clip(p.c.Background[i]+share)
}

// around is the widest range about a line in which nothing is more than three times as high; ok is false when even the
// narrowest has such a neighbour.
func (p *patternPlot) around(at, rise float64) (span [2]float64, ok bool) {
	for _, half := range []float64{2.5, 2, 1.5, 1} {
		high := 0.0
		for i, t := range p.c.TwoTheta {
			if math.Abs(t-at) <= half {
				high = math.Max(high, p.rise(i, p.c.Calculated[i]-p.c.Background[i]))
			}
		}
		if high <= 3*rise {
			return [2]float64{at - half, at + half}, true
		}
	}
	return span, false
}

// planInsets finds a free place for each inset. It weighs how far insets lie from their ranges against smaller insets
// and against more room over the scan.
func (p *patternPlot) planInsets() error {
	list, err := p.insetRanges()
	if err != nil || len(list) == 0 {
		return err
	}
	top, panel, width := p.y.to, p.main.bottom-p.main.top, p.main.right-p.main.left
	least, to := math.Inf(1), top
	for _, room := range []float64{0, 0.12, 0.24, 0.36, 0.48} {
		p.y.to = top + room*panel
		p.survey()
		for _, w := range []float64{0.4, 0.33, 0.27} {
			for _, h := range []float64{0.55, 0.46} {
				aside, ok := p.place(list, math.Min(w, 0.95/float64(len(list)))*width, h*panel)
				if cost := aside/width + 1.2*(0.4-w) + 2*(0.55-h) + 1.2*room; ok && cost < least {
					least, to, p.insets = cost, p.y.to, slices.Clone(list)
				}
			}
		}
	}
	p.y.to = to
	p.survey()
	if p.insets == nil {
		return fmt.Errorf("%w: no room in this size of figure", ErrInsets)
	}
	return nil
}

// place puts boxes of one size at the top of the panel, each as near above its range as curves, marks and the boxes
// before it allow, and returns how far off they are together; false when one has no place.
func (p *patternPlot) place(list []inset, width, height float64) (aside float64, ok bool) {
	pad := 0.5 * p.m.small
	top := p.main.top + pad
	from := p.main.left + pad
	for k := range list {
		middle := p.x.at((list[k].lo + list[k].hi) / 2)
		nearest := math.Inf(1)
		for left := from; left+width <= p.main.right-pad; left++ {
			if p.height(left-pad, left+width+pad)-p.markRoom(left-pad, left+width+pad) < top+height+pad {
				continue
			}
			if d := math.Abs(left + width/2 - middle); d < nearest {
				nearest, list[k].frame = d, box{left, top, left + width, top + height}
			}
		}
		if math.IsInf(nearest, 1) {
			return 0, false
		}
		from = list[k].frame.right + pad
		aside += nearest
	}
	return aside, true
}

// markRoom is what the marks of unexplained peaks need over the curve between two x.
func (p *patternPlot) markRoom(left, right float64) float64 {
	for _, u := range p.doc.UnexplainedPeaks {
		if x := p.x.at(u.TwoTheta); x >= left && x <= right {
			return 1.5 * p.m.small
		}
	}
	return 0
}

// drawInsets draws every inset with a frame about its range in the scan and lines from one to the other.
func (p *patternPlot) drawInsets() {
	for _, in := range p.insets {
		lens := box{p.x.at(in.lo), p.height(p.x.at(in.lo), p.x.at(in.hi)) - 0.3*p.m.small, p.x.at(in.hi), p.main.bottom}
		p.leader(lens, in.frame)
		p.add(shape{runs: [][]point{corners(lens)}, closed: true, stroke: p.th.quiet, width: p.hair})
		for x := lens.left; x <= lens.right; x++ {
			p.raise(point{x, lens.top})
		}
		p.drawInset(in)
		p.taken = append(p.taken, in.frame.grow(0.2*p.m.small))
	}
}

// leader joins a range to its inset; labels keep clear of it.
func (p *patternPlot) leader(lens, frame box) {
	pairs := [][2]point{{{lens.left, lens.top}, {frame.left, frame.bottom}}, {{lens.right, lens.top}, {frame.right, frame.bottom}}}
	if frame.bottom > lens.top { // side by side
		from, to := lens.right, frame.left
		if lens.left >= frame.right {
			from, to = lens.left, frame.right
		}
		y := math.Max(lens.top, frame.top) + 0.5*(frame.bottom-math.Max(lens.top, frame.top))
		pairs = [][2]point{{{from, y}, {to, y}}}
	}
	for _, q := range pairs {
		p.line(p.th.quiet, p.hair, q[0], q[1])
		for k := range 40 {
			s := float64(k) / 39
			x, y := q[0].x+s*(q[1].x-q[0].x), q[0].y+s*(q[1].y-q[0].y)
			p.taken = append(p.taken, box{x, y, x, y}.grow(0.25*p.m.small))
		}
	}
}

// drawInset draws the scan of a range with axes of its own inside a frame.
func (p *patternPlot) drawInset(in inset) {
	p.rect(in.frame, p.th.paper)
	q := p.enlarged(in)
	q.put(q.Shares, q.x, q.y)
	q.unexplained()
	if peaksOnly(p.doc) {
		q.fittedPeaks()
	}
	q.insetAxes(in.frame)
	if p.o.HKL {
		q.reflections()
	}
	q.names()
	p.add(shape{runs: [][]point{corners(in.frame)}, closed: true, stroke: p.th.quiet, width: p.hair})
}

// enlarged is the plot of a range on the same page, its intensity axis from the lowest to the highest that it holds.
func (p *patternPlot) enlarged(in inset) *patternPlot {
	m := p.m
	m.text = m.small
	shares := &Shares{look: p.look, c: cut(p.c, in.lo, in.hi), groups: p.groups}
	shares.m = m
	q := &patternPlot{Figure: p.Figure, Shares: shares, doc: p.doc, o: p.o}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range q.c.TwoTheta {
		lo = math.Min(lo, math.Min(finite(q.c.Observed[i]), finite(q.c.Background[i])))
		hi = math.Max(hi, finite(math.Max(q.c.Observed[i], q.c.Calculated[i])))
	}
	if !(hi > lo) {
		hi = lo + 1
	}
	ticks := textWidth(plain(math.Trunc(hi)), m.small, false)
	q.main = box{in.frame.left + ticks + 0.8*m.small, in.frame.top + 0.3*m.small, in.frame.right - 0.5*m.small, in.frame.bottom - 1.7*m.small}
	head := 1.5 * m.small
	if p.o.HKL {
		head = 4 * m.small
	}
	q.x = newAxis(q.c.TwoTheta[0], q.c.TwoTheta[len(q.c.TwoTheta)-1], q.main.left, q.main.right, false)
	q.y = newAxis(lo, hi, q.main.bottom, q.main.top+head, !p.o.Linear)
	q.y.from -= 0.04 * (q.y.from - q.y.to) // the least value stands clear of the axis
	q.keep = decimate(q.x, q.c.TwoTheta, q.c.Calculated, q.columnWidth())
	q.survey()
	return q
}

// insetTicks are round intensities; where a short piece of a square-root axis holds few of those of a whole one, those
// of a linear one.
func (p *patternPlot) insetTicks() []plot.Tick {
	gap := 2.2 * p.m.small
	whole := p.y.ticks(gap, p.w)
	linear := newAxis(p.y.Min, p.y.Max, p.y.from, p.y.to, false).ticks(gap, p.w)
	if len(linear) <= len(whole) {
		return whole
	}
	var kept []plot.Tick
	for _, t := range linear {
		if len(kept) == 0 || math.Abs(p.y.at(t.Value)-p.y.at(kept[len(kept)-1].Value)) >= gap {
			kept = append(kept, t)
		}
	}
	return kept
}

// insetAxes draws ticks whose numbers stay inside the frame.
func (p *patternPlot) insetAxes(frame box) {
	m, th := p.m, p.th
	p.line(th.ink, p.hair, point{p.main.left, p.main.top}, point{p.main.left, p.main.bottom}, point{p.main.right, p.main.bottom})
	for _, t := range p.insetTicks() {
		at := p.y.at(t.Value)
		l := label{x: p.main.left - 0.4*m.small, y: at + 0.35*m.small, anchor: 1, size: m.small, colour: th.quiet, text: t.Label}
		if b := l.box(); b.top < frame.top || b.bottom > p.main.bottom+0.4*m.small {
			continue
		}
		p.line(th.ink, p.hair, point{p.main.left - 0.25*m.small, at}, point{p.main.left, at})
		p.write(l)
	}
	for _, t := range p.x.ticks(4*m.small, p.w) {
		at := p.x.at(t.Value)
		l := label{x: at, y: p.main.bottom + 1.25*m.small, anchor: 0.5, size: m.small, colour: th.quiet, text: t.Label}
		if b := l.box(); b.left < p.main.left-0.4*m.small || b.right > frame.right {
			continue
		}
		p.line(th.ink, p.hair, point{at, p.main.bottom}, point{at, p.main.bottom + 0.25*m.small})
		p.write(l)
	}
}
