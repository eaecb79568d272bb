package leastsq

import (
	"context"
	"math"
)

// Fit minimises Σ ((y − f(p))/σ)² + Σ ((p − mean)/sigma)² by the Levenberg–Marquardt method: the step minimises
// ‖Jδ − r‖² + λ‖Dδ‖² by orthogonal (Householder) factors, so that the condition of J is not squared; D are the largest
// lengths that the columns of J have had. Steps that would leave the bounds are solved again with the
// offending parameters on their bounds. Starting values outside the bounds are moved onto them. Near the end the sum of
// squares is blind to what the steps still improve; they are taken as long as they shrink.
//
// The context is looked at once an iteration; a cancelled fit returns the best point so far with Status Cancelled and
// without covariance. The error is ErrInput or nil.
//
// Sources: Marquardt, J. SIAM 11 (1963) 431–441; Moré, Lecture Notes in Mathematics 630 (1978) 105–116 (both from
// memory).
func Fit(ctx context.Context, p Problem, s Settings) (Result, error) {
	f, err := newGeneral(p)
	if err != nil {
		return Result{}, err
	}
	d := descent{stepper: f, settings: s.orDefaults(generalDefaults)}
	status := d.run(ctx)
	r := f.result(status)
	r.Iterations, r.Evaluations = d.iterations, f.evaluations
	return r, nil
}

// Choices of the method, the same for every problem. Changed one at a time, all NIST sets are reached from
// both starts for scaleMemory 0.75, 0.8, 0.95 and 1, firstReach 0.05 to 1 and bendLimit 0.2 to 0.5; with scaleMemory 0.9
// the far starts of MGH09 and MGH10 are not.
const (
	// scaleMemory is the part of the scale of a parameter that is kept each iteration, so that a parameter that has run
	// onto a plateau, where its column vanishes, comes back (Moré never forgets: 1).
	scaleMemory = 0.85
	// firstReach is the first radius relative to the starting values: they are believed to that part.
	firstReach = 0.2
	// bendLimit is the largest correction by curvature relative to the step (after Transtrum & Sethna).
	bendLimit = 0.375
)

// general is the state of a general fit. All memory is taken when it is made.
type general struct {
	tally
	usable         bool // the derivatives are finite
	p              Problem
	model          Differentiable
	points, params int
	weight         []float64 // 1/σ, or nil
	lower, upper   []float64
	dataNorm       float64

	rows   [][]float64 // J, one parameter a row, then the residuals; each is points long plus one for every prior
	jac    [][]float64 // the part of rows that the model fills
	factor *triangular // its scale is the largest length that each column of J has had
	best   fitted
	trial  fitted
	step   boundedStep

	heads        []float64 // of the reflections in rows
	probe, bend  []float64 // a place along the step and the curvature of the model there
	acceleration []float64
}

// fitted is a place in parameter space with what follows from it.
type fitted struct {
	p, y               []float64
	sumSquares, priors float64
}

func newGeneral(p Problem) (*general, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	m, n := p.Model.Size()
	f := &general{
		p: p, points: m, params: n, weight: inverse(nil, p.Sigma),
		lower: bounds(p.Lower, math.Inf(-1), n), upper: bounds(p.Upper, math.Inf(1), n),
		rows: matrix(n+1, m+len(p.Prior)), jac: make([][]float64, n),
		factor: newTriangular(n),
		best:   fitted{p: make([]float64, n), y: make([]float64, m)},
		trial:  fitted{p: make([]float64, n), y: make([]float64, m)},
		heads:  make([]float64, n), probe: make([]float64, n), bend: make([]float64, m+len(p.Prior)),
		acceleration: make([]float64, n),
	}
	f.step = newBoundedStep(f.factor, f.lower, f.upper, f.factor.scale)
	f.dataNorm = math.Sqrt(sumSquares(p.Y, f.best.y, f.weight))
	for k := range f.jac {
		f.jac[k] = f.rows[k][:m:m]
	}
	f.differentiate()
	for k, v := range p.Start {
		f.trial.p[k] = min(max(v, f.lower[k]), f.upper[k])
	}
	f.evaluate()
	if !finite(f.trial.sumSquares + f.trial.priors) {
		return nil, badInput("the model is not finite at the starting values")
	}
	f.accept()
	return f, nil
}

func (f *general) differentiate() {
	if d, ok := f.p.Model.(Differentiable); ok {
		f.model = d
		return
	}
	typical := make([]float64, f.params)
	for k, v := range f.p.Start {
		typical[k] = math.Abs(v)
	}
	f.model = &differences{
		Model: f.p.Model, lower: f.lower, upper: f.upper, typical: typical,
		p: make([]float64, f.params), above: make([]float64, f.points), below: make([]float64, f.points),
	}
}

func (f *general) objectives() (best, trial float64) {
	return f.best.sumSquares + f.best.priors, f.trial.sumSquares + f.trial.priors
}

func (f *general) rounding() float64 { return rounding(f.best.sumSquares, f.dataNorm) }

func (f *general) accept() { f.best, f.trial = f.trial, f.best }

func (f *general) evaluate() {
	f.evaluations++
	f.p.Model.Values(f.trial.p, f.trial.y)
	f.trial.sumSquares = sumSquares(f.p.Y, f.trial.y, f.weight)
	f.trial.priors = penalty(f.p.Prior, f.trial.p)
}

// linearise factors J at the best point and says whether it is finite.
func (f *general) linearise() bool {
	f.fillRows()
	f.usable = true
	for k, row := range f.rows[:f.params] {
		length := norm(row)
		f.usable = f.usable && finite(length)
		f.factor.scale[k] = max(scaleMemory*f.factor.scale[k], length)
	}
	triangularise(f.rows, f.params, f.heads)
	f.factor.take(f.rows)
	return f.usable
}

// fillRows fills the weighted derivatives and residuals, priors last.
func (f *general) fillRows() {
	f.model.Derivatives(f.best.p, f.jac)
	residual := f.rows[f.params]
	for i, y := range f.p.Y {
		residual[i] = y - f.best.y[i]
	}
	if f.weight != nil {
		for _, row := range f.rows {
			for i, w := range f.weight {
				row[i] *= w
			}
		}
	}
	for _, row := range f.rows {
		clear(row[f.points:])
	}
	for k, q := range f.p.Prior {
		if q.Sigma > 0 {
			f.rows[k][f.points+k] = 1 / q.Sigma
			residual[f.points+k] = (q.Mean - f.best.p[k]) / q.Sigma
		}
	}
}

func (f *general) propose(damping float64) (predicted, size float64) {
	predicted, size = f.step.solve(damping, f.best.p)
	f.step.move(f.trial.p)
	return predicted, size
}

// accelerate bends the step along the model's own curvature: with the second derivative f″ along the step v, found from
// one more evaluation, the correction a minimises ‖f″/2 + Ja‖² + λ‖Da‖². In narrow curved valleys that allows far longer
// steps. Where the correction is not small against the step the expansion does not hold and the step is refused.
// Source: Transtrum & Sethna, arXiv:1201.5885 (from memory).
func (f *general) accelerate(damping float64) bool {
	const part = 0.1 // of the step, over which the second difference is taken
	for k, d := range f.step.delta {
		f.probe[k] = f.best.p[k] + part*d
	}
	f.evaluations++
	f.p.Model.Values(f.probe, f.bend[:f.points])
	for i, y := range f.best.y {
		f.bend[i] = -(f.bend[i] - y)
		if f.weight != nil {
			f.bend[i] *= f.weight[i]
		}
	}
	for k, q := range f.p.Prior {
		f.bend[f.points+k] = 0
		if q.Sigma > 0 { // the curvature of a prior is nothing only if its change along the step is counted
			f.bend[f.points+k] = -part * f.step.delta[k] / q.Sigma
		}
	}
	if !finite(norm(f.bend)) {
		return false
	}
	reflect(f.rows, f.heads, f.bend)
	f.factor.curve(damping, part, f.bend, f.step.free, f.step.delta, f.acceleration)
	if !(scaledNorm(f.acceleration, f.factor.scale) <= bendLimit*scaledNorm(f.step.delta, f.factor.scale)) {
		return false
	}
	for k, a := range f.acceleration {
		f.trial.p[k] = min(max(f.trial.p[k]+a, f.lower[k]), f.upper[k])
	}
	return true
}

func (f *general) reach() float64 {
	if r := firstReach * f.length(); r > 0 {
		return r
	}
	return norm(f.factor.q) // as far as changes the data by their misfit
}

func (f *general) length() float64 { return scaledNorm(f.best.p, f.factor.scale) }

func (f *general) result(status Status) Result {
	r := Result{
		Status: status, Parameters: f.best.p, Fitted: f.best.y, SumSquares: f.best.sumSquares, Penalty: f.best.priors,
		freedom: f.points,
	}
	chosen := make([]bool, f.params)
	for k, v := range f.best.p {
		if chosen[k] = f.lower[k] < v && v < f.upper[k]; chosen[k] {
			r.freedom--
		}
	}
	for _, q := range f.p.Prior {
		if q.Sigma > 0 {
			r.freedom++
		}
	}
	if status != Cancelled && f.usable {
		r.Covariance, r.Undetermined = invertTriangular(f.factor.r, chosen)
	}
	return r
}
