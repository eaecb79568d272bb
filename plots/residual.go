package plots

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"phasetally/xrd/result"
)

// Residuals is a plotter of (observed − calculated)/σ over the angle, degrees 2θ, with the band of ±3 shaded; what goes
// beyond the axis is cut and marked with an arrow head. Masked points have none.
type Residuals struct {
	*Shares
	z     []float64 // NaN: masked or unknown
	worst int       // −1: all are
	limit float64
}

// NewResiduals returns the plotter of an analysis. It returns ErrNoPoints for a scan of fewer than two points.
func NewResiduals(r result.Analysis, style Style) (*Residuals, error) {
	s, err := NewShares(r, style, 0, 0)
	if err != nil {
		return nil, err
	}
	return s.residuals(), nil
}

func (s *Shares) residuals() *Residuals {
	r := &Residuals{Shares: s, z: make([]float64, len(s.c.TwoTheta)), worst: -1}
	for i := range r.z {
		z := (s.c.Observed[i] - s.c.Calculated[i]) / s.c.Sigma[i]
		if !(s.c.Sigma[i] > 0) || math.IsInf(z, 0) || s.c.Masked != nil && s.c.Masked[i] {
			z = math.NaN()
		}
		if r.z[i] = z; !math.IsNaN(z) && (r.worst < 0 || math.Abs(z) > math.Abs(r.z[r.worst])) {
			r.worst = i
		}
	}
	r.limit = residualLimit(r.z)
	return r
}

// DataRange returns the ends of the scan and the values at which the plotter wants to be cut.
func (r *Residuals) DataRange() (xmin, xmax, ymin, ymax float64) {
	return r.c.TwoTheta[0], r.c.TwoTheta[len(r.c.TwoTheta)-1], -r.limit, r.limit
}

// Plot draws band, line and arrow heads.
func (r *Residuals) Plot(c draw.Canvas, p *plot.Plot) {
	g, x, y := onCanvas(c, p)
	g.rect(box{x.from, y.clip(3), x.to, y.clip(-3)}, r.th.shade)
	r.maskShading(g, x, y)
	for _, v := range []float64{-3, 0, 3} {
		g.line(r.th.grid, r.hair, point{x.from, y.clip(v)}, point{x.to, y.clip(v)})
	}
	var runs [][]point
	var run []point
	for _, i := range decimate(x, r.c.TwoTheta, r.z, r.columnWidth()) {
		if math.IsNaN(r.z[i]) {
			runs, run = append(runs, run), nil
			continue
		}
		pt := point{x.at(r.c.TwoTheta[i]), y.clip(r.z[i])}
		run = append(run, pt)
		if !y.holds(r.z[i]) {
			r.arrow(g, pt, r.z[i] > 0)
		}
	}
	g.add(shape{runs: append(runs, run), stroke: mix(r.th.paper, r.th.curve, 0.8), width: 0.7 * r.m.line})
}

// residual draws the lowest panel with its numbers, and prints the worst value with its place.
func (p *patternPlot) residual() {
	m, th, r := p.m, p.th, p.residuals()
	y := newAxis(-r.limit, r.limit, p.res.bottom, p.res.top, false)
	p.put(r, p.x, y)
	for _, v := range []float64{-3, 0, 3} {
		p.write(label{x: p.res.left - 0.4*m.small, y: y.at(v) + 0.35*m.small, anchor: 1, size: m.small, colour: th.quiet, text: plain(v)})
	}
	p.sideTitle(p.w.Residual, p.res)
	if r.worst >= 0 {
		p.write(label{x: p.res.right, y: p.res.top - 0.4*m.small, anchor: 1, size: m.small, colour: th.quiet,
			text: fmt.Sprintf(p.w.Worst, p.w.number(signed(r.z[r.worst])), p.w.number(Fixed(p.c.TwoTheta[r.worst], 2)))})
	}
	p.subtitle()
}

func signed(v float64) string {
	if v > 0 {
		return "+" + Fixed(v, 1)
	}
	return Fixed(v, 1)
}

// residualLimit is where the panel cuts: room for 99.7 % of the points, at least ±5, at most ±12.
func residualLimit(z []float64) float64 {
	var sizes []float64
	for _, v := range z {
		if !math.IsNaN(v) {
			sizes = append(sizes, math.Abs(v))
		}
	}
	if len(sizes) == 0 {
		return 5
	}
	slices.Sort(sizes)
	return math.Ceil(math.Min(12, math.Max(5, sizes[int(0.997*float64(len(sizes)-1))])))
}

// arrow marks a value that goes on beyond the panel.
func (l look) arrow(g page, at point, up bool) {
	r := 0.3 * l.m.small
	tip := at.y - 0.2*r
	foot := tip + 1.5*r
	if !up {
		tip, foot = at.y+0.2*r, at.y-1.3*r
	}
	g.add(shape{runs: [][]point{{{at.x, tip}, {at.x + 0.7*r, foot}, {at.x - 0.7*r, foot}}}, closed: true, fill: l.th.alarm})
}
