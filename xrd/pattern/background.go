package pattern

import (
	"context"
	"math"

	"gonum.org/v1/gonum/floats"

	"phasetally/xrd"
	"phasetally/xrd/leastsq"
)

// NewModel makes the model of a setup, every parameter held at its starting value. It returns ErrSetup for input that
// no model can be made from.
func NewModel(s Setup) (*Model, error) { return newModel(s, false) }

// newModel makes one whose background is bounded, or not.
func newModel(s Setup, bounded bool) (*Model, error) {
	m, err := newLines(s)
	if err != nil {
		return nil, err
	}
	m.bounded = bounded
	knots := s.Start.Knots
	if knots == 0 {
		choices := s.knotChoices()
		knots = choices[max(0, len(choices)-2)] // fine enough for haloes until a criterion has chosen
	}
	m.background = m.splines(knots)
	return m, nil
}

// splineColumns returns the cubic B-splines that stay on a grid of equal intervals over the angles x: intervals + 3
// columns, each zero outside four intervals, that add up to 1. Source: de Boor, A Practical Guide to Splines (1978) (from memory).
func splineColumns(x []float64, intervals int) []leastsq.Strip {
	return columnsOf(x, intervals, func(u float64, _ int) [4]float64 {
		w := 1 - u
		return [4]float64{w * w * w / 6, (3*u*u*u - 6*u*u + 4) / 6, (3*w*w*w - 6*w*w + 4) / 6, u * u * u / 6}
	})
}

// clampedColumns returns other columns of the same splines, with four knots at either end: no column belongs to a place outside the range, so
// that a spline without negative coefficients, which is nowhere negative, can have any slope at its ends.
func clampedColumns(x []float64, intervals int) []leastsq.Strip {
	return columnsOf(x, intervals, func(u float64, k int) [4]float64 {
		knot := func(i int) float64 { return float64(min(max(i, 0), intervals) - k) } // from the beginning of interval k
		b := [4]float64{1}
		for order := 1; order < len(b); order++ { // de Boor's recurrence
			carried := 0.0
			for r := range order {
				right, left := knot(k+1+r), knot(k+1+r-order)
				part := b[r] / (right - left)
				b[r] = carried + (right-u)*part
				carried = (u - left) * part
			}
			b[order] = carried
		}
		return b
	})
}

// columnsOf returns columns on a grid of equal intervals, from the values of the four that are not 0 at u, 0 to 1, of interval k.
func columnsOf(x []float64, intervals int, at func(u float64, k int) [4]float64) []leastsq.Strip {
	lo, hi := x[0], x[len(x)-1]
	width := (hi - lo) / float64(intervals)
	interval := func(v float64) int { return min(int((v-lo)/width), intervals-1) }
	begins := make([]int, intervals+1) // first point of each interval
	k := 0
	for i, v := range x {
		for ; k <= interval(v); k++ {
			begins[k] = i
		}
	}
	begins[intervals] = len(x)
	cols := make([]leastsq.Strip, intervals+3)
	for j := range cols {
		first, end := begins[max(0, j-3)], begins[min(intervals, j+1)]
		cols[j] = leastsq.Strip{First: first, Values: make([]float64, end-first)}
	}
	for i, v := range x {
		k := interval(v)
		for j, b := range at((v-lo)/width-float64(k), k) {
			cols[k+j].Values[i-cols[k+j].First] = b
		}
	}
	return cols
}

// belowNothing is how many standard uncertainties a background must lie below 0, where no scan is, before it is bounded (common practice:
// less is chance).
const belowNothing = 2

// mustBound reports whether a fit is to be made again with a background that is nowhere negative: it went below 0 where no intensity did, at the
// ends of a scan, where few points hold it, or under the feet of lines that are broader in the model than in the scan. Beside a blank only the sum
// of both cannot be negative, and that is not asked for. All other fits stay as they are.
func (f *Fit) mustBound() bool {
	m := f.model
	return !m.bounded && m.setup.Blank == nil && floats.Min(m.setup.Intensity) >= 0 && f.backgroundBelowNothing()
}

// splines returns the columns of a background of so many intervals.
func (m *Model) splines(intervals int) []leastsq.Strip {
	if m.bounded {
		return clampedColumns(m.setup.TwoTheta, intervals)
	}
	return splineColumns(m.setup.TwoTheta, intervals)
}

// backgroundBelowNothing reports whether the background is negative somewhere beyond its uncertainty.
func (f *Fit) backgroundBelowNothing() bool {
	first, size := f.model.firstBackground(), f.model.linear()+len(f.model.free)
	for i, b := range f.Background {
		if b < 0 && b < -belowNothing*math.Sqrt(f.model.backgroundVariance(i, f.last.Covariance[first*size+first:], size)) {
			return true
		}
	}
	return false
}

// backgroundVariance returns that of the background at point i, from the covariance of its coefficients in rows of so many.
func (m *Model) backgroundVariance(i int, cov []float64, stride int) float64 {
	var sum float64
	for a, p := range m.background {
		if i < p.First || i >= p.First+len(p.Values) {
			continue
		}
		for b, q := range m.background {
			if i >= q.First && i < q.First+len(q.Values) {
				sum += p.Values[i-p.First] * q.Values[i-q.First] * cov[a*stride+b]
			}
		}
	}
	return math.Max(0, sum)
}

// knotChoices returns the numbers of background intervals to choose from. A blank brings the shape of the background;
// beside it only stiff ones are tried, since finer ones would follow a halo better than a blank with its noise can.
func (s Setup) knotChoices() []int {
	// What is broad is so in 1/d; with a short wavelength it takes fewer degrees.
	all := knotChoices((s.TwoTheta[len(s.TwoTheta)-1] - s.TwoTheta[0]) / xrd.Broadness(s.Radiation.KAlpha1))
	if s.Blank != nil {
		return all[:min(2, len(all))]
	}
	return all
}

// knotChoices returns the numbers of background intervals worth trying over a range in degrees with Cu Kα: from two in all to one
// every 3°, which still cannot follow a line (common practice: the background must not bend within ten widths).
func knotChoices(span float64) []int {
	var out []int
	for _, every := range []float64{40, 25, 16, 10, 7, 5, 3.5} {
		n := max(2, int(span/every+0.5))
		if len(out) == 0 || n > out[len(out)-1] {
			out = append(out, n)
		}
	}
	return out
}

// chooseBackground tries the sensible numbers of background intervals with everything else held and keeps the one with
// the least Bayesian information criterion, n ln(χ²/n) + k ln n.
func (f *Fit) chooseBackground(ctx context.Context) error {
	m := f.model
	x := m.setup.TwoTheta
	n := float64(len(x))
	var phases []leastsq.Strip
	for _, c := range f.columns() {
		phases = append(phases, leastsq.Strip{Values: c})
	}
	best, bestKnots := math.Inf(1), 0
	var solver leastsq.SeparableSolver
	for _, k := range m.setup.knotChoices() {
		m.background = m.splines(k)
		p := leastsq.SeparableProblem{Model: held(len(x)), Fixed: append(phases, m.Fixed()...), Y: m.setup.Intensity, Sigma: f.sigma(), NonNegative: f.nonNegative()}
		res, err := solver.Fit(ctx, p, leastsq.Settings{Onward: true})
		if err != nil {
			return err
		}
		if bic := n*math.Log(res.SumSquares/n) + float64(k)*math.Log(n); bic < best {
			best, bestKnots = bic, k
		}
	}
	m.background = m.splines(bestKnots)
	return ctx.Err()
}

// held is a model of so many points in which nothing moves.
type held int

// Size implements leastsq.Separable.
func (h held) Size() (points, linear, nonlinear int) { return int(h), 0, 0 }

// Columns implements leastsq.Separable.
func (held) Columns([]float64, [][]float64) {}

// Derivatives implements leastsq.Separable.
func (held) Derivatives([]float64, []float64, [][]float64) {}
