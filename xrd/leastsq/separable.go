package leastsq

import (
	"context"
	"math"

	"gonum.org/v1/gonum/floats"
)

// A SeparableSolver keeps the memory of one fit for the next. The zero value is ready; it is not safe for concurrent use.
type SeparableSolver struct{ last *projection }

// Fit minimises Σ ((y − Σ_j c_j φ_j(θ))/σ)² + Σ ((p − mean)/sigma)² over c and θ by variable projection: c is
// always the (non-negative) linear least-squares solution for the θ at hand, and the step in θ solves the damped
// Gauss–Newton equations of (c, θ) with c eliminated,
//
//	(D − BᵀA⁻¹B + λ diag D) δ = g,  A = ΦᵀWΦ, B = ΦᵀWJ, D = JᵀWJ, g = JᵀW(y − Φc), J_k = Σ_j c_j ∂φ_j/∂θ_k,
//
// the approximation of Kaufman to the functional of Golub and Pereyra. A step that would leave the bounds is solved again
// with the offending parameters on their bounds. Starting values outside the bounds are moved onto them.
//
// The context is looked at once an iteration; a cancelled fit returns the best point so far with Status Cancelled and
// without covariance. The error is ErrInput or nil.
//
// Sources: Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413–432; Kaufman, BIT 15 (1975) 49–57 (both from memory).
func (v *SeparableSolver) Fit(ctx context.Context, p SeparableProblem, s Settings) (SeparableResult, error) {
	if err := p.check(); err != nil {
		return SeparableResult{}, err
	}
	f := v.last.renewed(p)
	v.last = f
	if err := f.start(); err != nil {
		return SeparableResult{}, err
	}
	if f.nonlinear == 0 { // the linear parameters are the best already
		if f.usable = true; !s.Onward && !f.linearise() {
			return f.result(Stuck, 0, false), nil
		}
		return f.result(Converged, 0, s.Onward), nil
	}
	d := descent{projection: f, settings: s.orDefaults()}
	status := d.run(ctx)
	return f.result(status, d.iterations, s.Onward), nil
}

// A projection is the state of a separable fit. All memory is taken when it is made. The linear parameters are those of
// the model and then those of the fixed columns.
type projection struct {
	tally
	usable                            bool // the normal equations are finite
	p                                 SeparableProblem
	ranged                            Ranged // the model, if it can do part of the points
	points, moving, linear, nonlinear int
	weight                            []float64 // 1/σ, or nil
	lower, upper                      []float64

	rows   [][]float64 // φ of the model at the last θ tried, then J of the last θ accepted
	gram   *gram
	normal []float64 // (c, θ) at the accepted θ, lower triangle, priors included
	slope  []float64 // half the negative gradient, length linear+nonlinear
	best   point
	trial  point

	fixedNormal []float64 // products of the fixed columns in the linear block
	trialNormal []float64 // the linear block at the θ tried
	trialRight  []float64
	solver      *nonNegative

	block    *cholesky      // of the free linear block at the accepted θ
	reduced  *reducedNormal // D − BᵀA⁻¹B; its scale are the lengths of the columns of J
	residual []float64
	dataNorm float64   // ‖y/σ‖
	free     []bool    // linear parameters not at their bound, at the accepted θ
	border   []float64 // L⁻¹B, one row a nonlinear parameter
	column   []float64
	step     boundedStep

	columnsIn, derivativesIn func(core, part int) // columnsOf and derivativesOf, made once
}

// A point is a place in parameter space with what follows from it.
type point struct {
	theta, c, fitted   []float64
	sumSquares, priors float64
}

func (p *point) objective() float64 { return p.sumSquares + p.priors }

func newPoint(points, linear, nonlinear int, fitted []float64) point {
	return point{theta: make([]float64, nonlinear), c: make([]float64, linear), fitted: sized(fitted, points)}
}

// renewed returns a projection for a problem that was checked, in the memory of the one before if that fits.
func (f *projection) renewed(p SeparableProblem) *projection {
	m, moving, k := p.Model.Size()
	l := moving + len(p.Fixed)
	if f == nil {
		f = &projection{gram: &gram{}}
	}
	if f.points != m || f.moving != moving || f.linear != l || f.nonlinear != k {
		f = newProjection(m, moving, l, k, f)
	}
	f.p, f.evaluations = p, 0
	f.ranged, _ = p.Model.(Ranged)
	f.weight = inverse(f.weight, p.Sigma)
	limits(f.lower, p.Lower, math.Inf(-1))
	limits(f.upper, p.Upper, math.Inf(1))
	f.solver.forget()
	f.gram.fix(p.Fixed, f.weight, f.fixedNormal, l)
	clear(f.residual)
	f.dataNorm = math.Sqrt(sumSquares(p.Y, f.residual, f.weight))
	return f
}

// newProjection allocates a problem, in what is as long as the data of an old one where that is enough.
func newProjection(m, moving, l, k int, old *projection) *projection {
	n := l + k
	f := &projection{
		points: m, moving: moving, linear: l, nonlinear: k,
		rows: moreRows(old.rows, moving+k, m), gram: newGram(m, n, moving, l-moving, old.gram),
		normal: make([]float64, n*n), slope: make([]float64, n),
		best: newPoint(m, l, k, old.best.fitted), trial: newPoint(m, l, k, old.trial.fitted), weight: old.weight, lower: make([]float64, k), upper: make([]float64, k),
		fixedNormal: make([]float64, l*l), trialNormal: make([]float64, l*l), trialRight: make([]float64, l), solver: newNonNegative(l),
		block: newCholesky(l), reduced: newReducedNormal(k), residual: sized(old.residual, m), free: make([]bool, l),
		border: make([]float64, k*l), column: make([]float64, n),
	}
	f.step = newBoundedStep(f.reduced, f.lower, f.upper, f.reduced.scale)
	f.columnsIn, f.derivativesIn = f.columnsOf, f.derivativesOf
	return f
}

// moreRows returns n rows of so many numbers, any of which may have been used before.
func moreRows(rows [][]float64, n, columns int) [][]float64 {
	rows = rows[:cap(rows)]
	if more := n - len(rows); more > 0 {
		rows = append(rows, matrix(more, columns)...)
	}
	rows = rows[:n]
	for i := range rows {
		rows[i] = sized(rows[i], columns)
	}
	return rows
}

func matrix(rows, columns int) [][]float64 {
	all := make([]float64, rows*columns)
	m := make([][]float64, rows)
	for i := range m {
		m[i] = all[i*columns : (i+1)*columns : (i+1)*columns]
	}
	return m
}

// inverse returns 1/σ in the memory of w, nil when there is no σ.
func inverse(w, sigma []float64) []float64 {
	if sigma == nil {
		return nil
	}
	w = sized(w, len(sigma))
	for i, s := range sigma {
		w[i] = 1 / s
	}
	return w
}

// limits fills bounds with those given, or with what holds otherwise.
func limits(bounds, given []float64, otherwise float64) {
	for i := range bounds {
		bounds[i] = otherwise
	}
	copy(bounds, given)
}

func bounds(given []float64, otherwise float64, n int) []float64 {
	b := make([]float64, n)
	limits(b, given, otherwise)
	return b
}

// start evaluates the starting values.
func (f *projection) start() error {
	for k, v := range f.p.Theta {
		f.trial.theta[k] = min(max(v, f.lower[k]), f.upper[k])
	}
	f.evaluate()
	if !finite(f.trial.objective()) {
		return badInput("the model is not finite at the starting values")
	}
	f.best, f.trial = f.trial, f.best
	return nil
}

func (f *projection) objectives() (best, trial float64) {
	return f.best.objective(), f.trial.objective()
}

func (f *projection) rounding() float64 { return rounding(f.best.sumSquares, f.dataNorm) }

func (f *projection) accept() { f.best, f.trial = f.trial, f.best }

// evaluate fills the trial point from its theta.
func (f *projection) evaluate() {
	f.evaluations++
	t := &f.trial
	f.columns()
	for j, q := range f.p.LinearPrior {
		if q.Sigma > 0 {
			f.trialNormal[j*f.linear+j] += 1 / (q.Sigma * q.Sigma)
			f.trialRight[j] += q.Mean / (q.Sigma * q.Sigma)
		}
	}
	f.solver.solve(f.trialNormal, f.linear, f.trialRight, f.p.NonNegative)
	copy(t.c, f.solver.x)
	f.fit(t)
	t.sumSquares = sumSquares(f.p.Y, t.fitted, f.weight)
	t.priors = penalty(f.p.ThetaPrior, t.theta) + penalty(f.p.LinearPrior, t.c)
	for j := range t.c {
		if !finite(f.trialNormal[j*f.linear+j]) {
			t.sumSquares = math.Inf(1) // a column with NaN must not pass for one that is not needed
		}
	}
}

// columns fills φ and the linear block of the normal equations at the θ tried.
func (f *projection) columns() {
	if f.ranged != nil {
		f.ranged.At(f.trial.theta)
	} else {
		f.p.Model.Columns(f.trial.theta, f.rows[:f.moving])
	}
	share(len(f.gram.workspaces), len(f.gram.parts), f.columnsIn)
	copy(f.trialNormal, f.fixedNormal)
	f.gram.sum(0, f.linear, f.trialNormal, f.linear, f.trialRight)
}

// columnsOf does the columns of one part.
func (f *projection) columnsOf(core, part int) {
	phi := f.rows[:f.moving]
	if f.ranged != nil {
		lo, hi := f.gram.bounds(part)
		f.ranged.ColumnsIn(lo, hi, phi)
	}
	f.gram.add(core, part, phi, 0, f.p.Y)
}

// fit fills the fitted data of a point from its linear parameters.
func (f *projection) fit(t *point) {
	clear(t.fitted)
	for j, c := range t.c {
		if c == 0 {
			continue
		}
		if j < f.moving {
			axpy(t.fitted, c, f.rows[j])
			continue
		}
		column := f.p.Fixed[j-f.moving]
		axpy(t.fitted[column.First:][:len(column.Values)], c, column.Values)
	}
}

func axpy(y []float64, a float64, x []float64) { floats.AddScaled(y, a, x[:len(y)]) }

func sumSquares(y, fitted, weight []float64) float64 {
	sum := 0.0
	fitted = fitted[:len(y)]
	if weight == nil {
		for i, v := range y {
			r := v - fitted[i]
			sum += r * r
		}
		return sum
	}
	weight = weight[:len(y)]
	for i, v := range y {
		r := (v - fitted[i]) * weight[i]
		sum += r * r
	}
	return sum
}

func penalty(priors []Prior, values []float64) float64 {
	sum := 0.0
	for i, q := range priors {
		if q.Sigma > 0 {
			r := (values[i] - q.Mean) / q.Sigma
			sum += r * r
		}
	}
	return sum
}

// linearise forms the normal equations at the best point, which must be the last one evaluated, and says whether they
// are finite.
func (f *projection) linearise() bool {
	n, l := f.linear+f.nonlinear, f.linear
	f.derivatives()
	for j := range l {
		copy(f.normal[j*n:j*n+j+1], f.trialNormal[j*l:j*l+j+1])
	}
	f.addPriors(f.p.LinearPrior, f.best.c, 0, false) // their curvature is in trialNormal
	f.addPriors(f.p.ThetaPrior, f.best.theta, l, true)
	copy(f.free, f.solver.free)
	f.eliminate()
	f.usable = true
	for i, g := range f.slope {
		f.usable = f.usable && finite(g) && finite(f.normal[i*n+i])
	}
	return f.usable
}

// derivatives fills J, the residual and those rows of the normal equations that belong to θ.
func (f *projection) derivatives() {
	if f.ranged == nil {
		f.p.Model.Derivatives(f.best.theta, f.best.c[:f.moving], f.rows[f.moving:])
	}
	share(len(f.gram.workspaces), len(f.gram.parts), f.derivativesIn)
	f.gram.sum(f.linear, f.linear+f.nonlinear, f.normal, f.linear+f.nonlinear, f.slope)
}

// derivativesOf does the derivatives of one part.
func (f *projection) derivativesOf(core, part int) {
	lo, hi := f.gram.bounds(part)
	if f.ranged != nil {
		f.ranged.DerivativesIn(lo, hi, f.best.c[:f.moving], f.rows[f.moving:])
	}
	for i, y := range f.p.Y[lo:hi] {
		f.residual[lo+i] = y - f.best.fitted[lo+i]
	}
	f.gram.add(core, part, f.rows, f.moving, f.residual)
}

func (f *projection) addPriors(priors []Prior, values []float64, from int, curvature bool) {
	n := f.linear + f.nonlinear
	for i, q := range priors {
		if !(q.Sigma > 0) {
			continue
		}
		w := 1 / (q.Sigma * q.Sigma)
		f.slope[from+i] += w * (q.Mean - values[i])
		if curvature {
			f.normal[(from+i)*n+from+i] += w
		}
	}
}

// eliminate takes the free linear parameters out of the normal equations (Schur complement).
func (f *projection) eliminate() {
	n, l := f.linear+f.nonlinear, f.linear
	f.block.decompose(f.normal, n, f.free)
	used := len(f.block.used)
	f.block.forward(f.slope, f.column)
	for k := range f.nonlinear {
		row := f.normal[(l+k)*n : (l+k)*n+n]
		border := f.border[k*l : k*l+l]
		f.block.forward(row, border)
		f.reduced.g[k] = f.slope[l+k] - dot(border[:used], f.column)
		for i := range k + 1 {
			f.reduced.r[k*f.nonlinear+i] = row[l+i] - dot(border[:used], f.border[i*l:i*l+l])
		}
		f.reduced.scale[k] = math.Sqrt(row[l+k])
	}
}

func (f *projection) propose(damping float64) (predicted, size float64) {
	predicted, size = f.step.solve(damping, f.best.theta)
	f.step.move(f.trial.theta)
	return predicted, size
}

// reach trusts a first step that changes the data by their misfit or the parameters by themselves.
func (f *projection) reach() float64 { return max(f.length(), math.Sqrt(f.best.objective())) }

func (f *projection) length() float64 { return scaledNorm(f.best.theta, f.reduced.scale) }
