package plots

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/xrd/result"
)

// anchorage is a place where a phase could be named: the top of a peak that is mostly its own.
type anchorage struct {
	at    point
	value float64 // free height on the page
}

// names writes each phase's name beside its strongest free line. Candidate places are tried from the best; a name
// never covers the curve, another name or a mark, and is left out rather than written across something.
func (p *patternPlot) names() {
	order := make([]int, len(p.groups))
	spots := make([][]anchorage, len(p.groups))
	for g := range order {
		order[g], spots[g] = g, p.anchorages(g)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(best(spots[b]), best(spots[a])) })
	for _, g := range order {
		p.name(g, spots[g])
	}
}

func best(s []anchorage) float64 {
	if len(s) == 0 {
		return 0
	}
	return s[0].value
}

// anchorages returns the peaks of a phase's share, best first: height on the page times its purity there.
func (p *patternPlot) anchorages(g int) []anchorage {
	share := p.c.Phases[g]
	var out []anchorage
	for k := 1; k+1 < len(p.keep); k++ {
		i := p.keep[k]
		if !(share[i] > share[p.keep[k-1]] && share[i] >= share[p.keep[k+1]]) {
			continue
		}
		net := p.c.Calculated[i] - p.c.Background[i]
		base := p.y.clip(p.c.Background[i])
		top := p.y.clip(p.c.Background[i] + share[i])
		purity := math.Min(1, share[i]/math.Max(net, 1e-12))
		if rise := (base - top) * purity * purity; rise > 0.3*p.m.small && purity > 0.5 {
			at := point{p.x.at(p.c.TwoTheta[i]), p.y.clip(math.Max(p.c.Observed[i], p.c.Calculated[i]))}
			if p.o.HKL {
				at.y = p.height(at.x, at.x) // over its indices
			}
			out = append(out, anchorage{at, rise})
		}
	}
	slices.SortStableFunc(out, func(a, b anchorage) int { return cmp.Compare(b.value, a.value) })
	if len(out) > 12 {
		out = out[:12]
	}
	return out
}

// name tries the places of one phase and writes the cheapest free one.
func (p *patternPlot) name(g int, spots []anchorage) {
	m := p.m
	text := fit(p.groups[g].name, m.text, false, 0.25*m.width)
	side := 0.8 * m.text
	width := textWidth(text, m.text, false) + side + 0.3*m.text
	var found label
	var from anchorage
	cost := math.Inf(1)
	for rank, s := range spots {
		for _, anchor := range []float64{0.5, 0.1, 0.9, 0, 1} {
			for lift := range 9 {
				l := s.at.x - anchor*width
				b := box{l, 0, l + width, 0}
				clear := math.Min(s.at.y, p.height(l, l+width))
				b.bottom = clear - 0.35*m.text - 0.8*m.text*float64(lift)
				b.top = b.bottom - m.text
				c := 3*float64(rank) + (s.at.y-b.bottom)/m.text + math.Abs(anchor-0.5)
				if c < cost && p.free(b, s.at) {
					cost, from = c, s
					found = label{x: l + side + 0.3*m.text, y: b.bottom - descent*m.text, size: m.text, colour: p.th.ink, text: text}
				}
			}
		}
	}
	if math.IsInf(cost, 1) {
		return
	}
	b := found.box()
	b.left -= side + 0.3*m.text
	if from.at.y-b.bottom > 0.9*m.text {
		x := math.Max(b.left, math.Min(b.right, from.at.x))
		p.line(p.th.quiet, p.hair, point{x, b.bottom + 0.1*m.text}, point{from.at.x, from.at.y - 0.25*m.text})
		p.taken = append(p.taken, box{math.Min(x, from.at.x) - 0.5, b.bottom, math.Max(x, from.at.x) + 0.5, from.at.y})
	}
	p.swatch(box{b.left, found.y - 0.72*side, b.left + side, found.y + 0.1*side}, p.groups[g].paint, 0.33*m.small, 0.6*p.hair)
	p.write(found)
	p.taken = append(p.taken, b)
}

// free reports whether a box lies in the panel clear of the curve and of what was placed before, with a clear way down
// to the peak it names.
func (p *patternPlot) free(b box, peak point) bool {
	if b.left < p.main.left || b.right > p.main.right || b.top < p.main.top+0.1*p.m.text {
		return false
	}
	x := math.Max(b.left, math.Min(b.right, peak.x))
	way := box{math.Min(x, peak.x) - 1, b.bottom, math.Max(x, peak.x) + 1, peak.y - 0.5}
	for _, t := range p.taken {
		if t.meets(b.grow(0.15*p.m.text)) || way.top < way.bottom && t.meets(way) {
			return false
		}
	}
	return true
}

// reflections writes h k l upwards over the peaks that have room, strongest lines first. What comes later stands over them.
func (p *patternPlot) reflections() {
	type mark struct {
		text  string
		x     float64
		power float64
	}
	var marks []mark
	for _, ph := range p.doc.Phases {
		most := 0.0
		for _, l := range ph.Lines {
			most = math.Max(most, finite(l.Expected))
		}
		for _, l := range ph.Lines {
			if l.Expected >= 0.03*most && l.H != nil && l.K != nil && l.L != nil && p.x.holds(l.TwoTheta) && l.Verdict != result.LineMissing {
				marks = append(marks, mark{HKL(l), p.x.at(l.TwoTheta), l.Expected})
			}
		}
	}
	slices.SortStableFunc(marks, func(a, b mark) int { return cmp.Compare(b.power, a.power) })
	before := len(p.taken)
	for _, k := range marks {
		half := 0.5 * p.m.small
		y := p.height(k.x-half, k.x+half) - 0.4*p.m.small
		l := label{x: k.x + 0.35*p.m.small, y: y, size: p.m.small, vertical: true, colour: p.th.quiet, text: k.text}
		if b := l.box(); p.free(b, point{k.x, y + 0.4*p.m.small}) {
			p.write(l)
			p.taken = append(p.taken, b)
		}
	}
	for _, b := range p.taken[before:] {
		for x := b.left; x < b.right+1; x++ {
			p.raise(point{math.Min(x, b.right), b.top})
		}
	}
	p.taken = p.taken[:before]
}

// SampleName is what a scan calls its specimen, else the name of its file without the folders; "" when neither is known.
func SampleName(s result.Scan) string {
	return cmp.Or(s.Sample, s.File[strings.LastIndexAny(s.File, `/\`)+1:])
}

// HKL prints the indices of a line, "1 0 −4"; "" when it has none.
func HKL(l result.PhaseLine) string {
	if l.H == nil || l.K == nil || l.L == nil {
		return ""
	}
	return fmt.Sprintf("%s %s %s", plain(float64(*l.H)), plain(float64(*l.K)), plain(float64(*l.L)))
}

// height returns the least y drawn between two x.
func (p *patternPlot) height(left, right float64) float64 {
	y := p.main.bottom
	for k := max(0, int(left)); k <= int(right) && k < len(p.skyline); k++ {
		y = math.Min(y, p.skyline[k])
	}
	return y
}

func (p *patternPlot) raise(pt point) {
	if k := int(pt.x); k >= 0 && k < len(p.skyline) {
		p.skyline[k] = math.Min(p.skyline[k], pt.y)
	}
}
