package plots

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
)

// Shares is a plotter of a scan over its angle, degrees 2θ: the share of each phase as a filled and hatched area, one upon
// the other on the background, and the observed intensities as a thin line. Masked ranges are shaded.
type Shares struct {
	look
	c      result.Curves // cut to the range; phases grouped
	groups []group       // parallel to c.Phases
}

// A group is what gets one colour and one lane: a phase, or all the phases beyond the colours.
type group struct {
	name  string
	paint paint
	lines [][]result.PhaseLine // one list a phase
}

// NewShares returns the plotter of an analysis between two angles, both 0 for the whole scan. It returns ErrNoPoints when
// the range holds fewer than two points.
func NewShares(r result.Analysis, style Style, lo, hi float64) (*Shares, error) {
	if lo == 0 && hi == 0 {
		lo, hi = math.Inf(-1), math.Inf(1)
	}
	s := &Shares{look: style.look(), c: cut(r.Curves, lo, hi)}
	if len(s.c.TwoTheta) < 2 {
		return nil, fmt.Errorf("%w between %g° and %g°", ErrNoPoints, lo, hi)
	}
	s.group(r.Document)
	return s, nil
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
func (s *Shares) group(doc result.Document) {
	var shares [][]float64
	var others []int
	for i, slot := range Slots(doc) {
		if slot >= Colours {
			others = append(others, i)
			continue
		}
		ph := doc.Phases[i]
		s.groups = append(s.groups, group{s.w.phase(ph.Name), s.style.paint(slot), [][]result.PhaseLine{ph.Lines}})
		shares = append(shares, s.c.Phases[i])
	}
	if len(others) > 0 {
		rest, sum := s.together(doc, others)
		s.groups, shares = append(s.groups, rest), append(shares, sum)
	}
	s.c.Phases = shares
}

// together makes one group of several phases; a single one keeps its name.
func (s *Shares) together(doc result.Document, phases []int) (group, []float64) {
	g := group{name: fmt.Sprintf(s.w.Others, len(phases)), paint: s.style.paint(Colours)}
	if len(phases) == 1 {
		g.name = s.w.phase(doc.Phases[phases[0]].Name)
	}
	sum := make([]float64, len(s.c.TwoTheta))
	for _, k := range phases {
		g.lines = append(g.lines, doc.Phases[k].Lines)
		for i, v := range s.c.Phases[k] {
			sum[i] += v
		}
	}
	return g, sum
}

// DataRange returns the ends of the scan and what observed and calculated intensities reach, 0 included.
func (s *Shares) DataRange() (xmin, xmax, ymin, ymax float64) {
	for i, v := range s.c.Observed {
		ymin = math.Min(ymin, finite(v))
		ymax = math.Max(ymax, finite(math.Max(v, s.c.Calculated[i])))
	}
	if !(ymax > ymin) {
		ymax = ymin + 1
	}
	return s.c.TwoTheta[0], s.c.TwoTheta[len(s.c.TwoTheta)-1], ymin, ymax
}

// Legend returns the phases in the order of their areas, from the background up.
func (s *Shares) Legend() []LegendEntry { return legendOf(s.groups, s.look) }

func legendOf(groups []group, l look) []LegendEntry {
	var out []LegendEntry
	for _, g := range groups {
		out = append(out, LegendEntry{g.name, g.paint, l})
	}
	return out
}

// Plot draws the areas and the scan.
func (s *Shares) Plot(c draw.Canvas, p *plot.Plot) {
	g, x, y := onCanvas(c, p)
	s.maskShading(g, x, y)
	keep := decimate(x, s.c.TwoTheta, s.c.Calculated, s.columnWidth())
	total := s.areas(g, x, y, keep)
	g.add(shape{runs: [][]point{s.scanLine(x, y)}, stroke: mix(s.th.paper, s.th.curve, 0.85), width: s.m.line})
	s.crest(g, y, keep, total) // over the observed line, or narrow peaks would lose their colour
}

// maskShading shades what the fit left out.
func (s *Shares) maskShading(g page, x, y axis) {
	for _, m := range s.masked() {
		left, right := x.at(m[0]), x.at(m[1])
		g.rect(box{left, y.to, right, y.from}, s.th.shade)
		for _, at := range []float64{left, right} {
			g.line(s.th.quiet, s.hair, point{at, y.to}, point{at, y.from})
		}
	}
}

// masked are the ranges that the fit left out.
func (s *Shares) masked() (out [][2]float64) {
	for i := 0; i < len(s.c.Masked); i++ {
		if !s.c.Masked[i] {
			continue
		}
		from := i
		for i+1 < len(s.c.Masked) && s.c.Masked[i+1] {
			i++
		}
		out = append(out, [2]float64{s.c.TwoTheta[from], s.c.TwoTheta[i]})
	}
	return out
}

// areas stacks the phases on the background and returns the upper edge of the stack, parallel to keep.
func (s *Shares) areas(g page, x, y axis, keep []int) []point {
	base := make([]float64, len(keep))
	xs := make([]float64, len(keep))
	for k, i := range keep {
		xs[k], base[k] = x.at(s.c.TwoTheta[i]), finite(s.c.Background[i])
	}
	page := func(values []float64) []float64 {
		out := make([]float64, len(values))
		for k, v := range values {
			out[k] = y.clip(v)
		}
		return out
	}
	for k, share := range s.c.Phases {
		top := make([]float64, len(base))
		for j, i := range keep {
			top[j] = base[j] + math.Max(0, finite(share[i]))
		}
		b, pt := band{xs, page(base), page(top)}, s.groups[k].paint
		g.add(shape{runs: b.outline(0.12), closed: true, fill: withAlpha(pt.fill, 0.55)})
		g.pattern(b, pt, 0.42*s.m.small, 0.6*s.hair)
		base = top
	}
	bg, total := make([]point, len(keep)), make([]point, len(keep))
	for k, i := range keep {
		bg[k] = point{xs[k], y.clip(s.c.Background[i])}
		total[k] = point{xs[k], y.clip(base[k])}
	}
	g.add(shape{runs: [][]point{bg}, stroke: s.th.quiet, width: s.hair, dash: []float64{3 * s.hair, 2 * s.hair}})
	return total
}

// crest draws the edge of the stack in the colour of the phase that gives most there.
func (s *Shares) crest(g page, y axis, keep []int, total []point) {
	runs := make([][][]point, len(s.groups))
	last := -1
	for k, i := range keep {
		g := s.dominant(i)
		if y.clip(s.c.Background[i])-total[k].y < 0.12 {
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
	for k, r := range runs {
		g.add(shape{runs: r, stroke: s.groups[k].paint.edge, width: 1.1 * s.m.line})
	}
}

// dominant returns the group with the largest share at a point; −1 when there is none.
func (s *Shares) dominant(i int) int {
	g, most := -1, 0.0
	for k := range s.groups {
		if v := s.c.Phases[k][i]; v > most {
			g, most = k, v
		}
	}
	return g
}

func (s *Shares) scanLine(x, y axis) (run []point) {
	for _, i := range decimate(x, s.c.TwoTheta, s.c.Observed, s.columnWidth()) {
		if v := s.c.Observed[i]; !math.IsNaN(v) {
			run = append(run, point{x.at(s.c.TwoTheta[i]), y.clip(v)})
		}
	}
	return run
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

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}
