package plots

import (
	"fmt"
	"math"
	"slices"
)

// residual draws (observed − calculated)/σ with the ±3 band shaded; what goes beyond the panel is cut, marked with an
// arrow head, and the worst value is printed with its place.
func (p *patternPlot) residual() {
	m, th := p.m, p.th
	z, worst := p.deviations()
	limit := residualLimit(z)
	y := axis{lo: -limit, hi: limit, from: p.res.bottom, to: p.res.top}
	p.rect(box{p.res.left, y.at(3), p.res.right, y.at(-3)}, th.shade)
	p.maskShading(p.res)
	for _, v := range []float64{-3, 0, 3} {
		p.line(th.grid, p.hair, point{p.res.left, y.at(v)}, point{p.res.right, y.at(v)})
		p.write(label{x: p.res.left - 0.4*m.small, y: y.at(v) + 0.35*m.small, anchor: 1, size: m.small, colour: th.quiet, text: plain(v)})
	}
	var runs [][]point
	var run []point
	for _, i := range decimate(p.x, p.c.TwoTheta, z, p.columnWidth()) {
		if math.IsNaN(z[i]) {
			runs, run = append(runs, run), nil
			continue
		}
		pt := point{p.x.at(p.c.TwoTheta[i]), y.clip(z[i])}
		run = append(run, pt)
		if math.Abs(z[i]) > limit {
			p.arrow(pt, z[i] > 0)
		}
	}
	p.add(shape{runs: append(runs, run), stroke: mix(th.paper, th.curve, 0.8), width: 0.7 * m.line})
	p.sideTitle(p.w.Residual, p.res)
	if worst >= 0 {
		p.write(label{x: p.res.right, y: p.res.top - 0.4*m.small, anchor: 1, size: m.small, colour: th.quiet,
			text: fmt.Sprintf(p.w.Worst, signed(z[worst]), Fixed(p.c.TwoTheta[worst], 2))})
	}
	p.subtitle()
}

func signed(v float64) string {
	if v > 0 {
		return "+" + Fixed(v, 1)
	}
	return Fixed(v, 1)
}

// deviations returns the residual of every point, NaN where it is masked or unknown, and the index of the worst, −1
// when there is none.
func (p *patternPlot) deviations() (z []float64, worst int) {
	z, worst = make([]float64, len(p.c.TwoTheta)), -1
	for i := range z {
		z[i] = (p.c.Observed[i] - p.c.Calculated[i]) / p.c.Sigma[i]
		if !(p.c.Sigma[i] > 0) || math.IsInf(z[i], 0) || p.c.Masked != nil && p.c.Masked[i] {
			z[i] = math.NaN()
		}
		if !math.IsNaN(z[i]) && (worst < 0 || math.Abs(z[i]) > math.Abs(z[worst])) {
			worst = i
		}
	}
	return z, worst
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
func (p *patternPlot) arrow(at point, up bool) {
	r := 0.3 * p.m.small
	tip := at.y - 0.2*r
	foot := tip + 1.5*r
	if !up {
		tip, foot = at.y+0.2*r, at.y-1.3*r
	}
	p.add(shape{runs: [][]point{{{at.x, tip}, {at.x + 0.7*r, foot}, {at.x - 0.7*r, foot}}}, closed: true, fill: p.th.alarm})
}
