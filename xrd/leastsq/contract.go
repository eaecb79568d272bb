package leastsq

import (
	"cmp"
	"errors"
)

// ErrInput says that nothing can start from the input: lengths that do not match, weights or starting values that are
// not finite, no data. Test with errors.Is. A fit that did not converge is a Status, not an error.
var ErrInput = errors.New("least squares: unusable input")

// A Separable model is y = Σ_j c_j φ_j(θ): linear in c, anything in θ. Slices handed to its methods belong to the
// solver; the model fills them and keeps none.
type Separable interface {
	// Size returns the number of points m, of linear parameters c and of nonlinear parameters θ.
	Size() (points, linear, nonlinear int)
	// Columns fills phi[j][i] with φ_j at point i. phi has linear rows of length points.
	Columns(theta []float64, phi [][]float64)
	// Derivatives fills jac[k][i] with Σ_j c_j ∂φ_j/∂θ_k at point i. jac has nonlinear rows of length points.
	// It is called after Columns with the same theta.
	Derivatives(theta, c []float64, jac [][]float64)
}

// A Ranged model can fill part of the points at a time, so that several cores share an evaluation. What it puts into a
// point must not depend on how the points are cut.
type Ranged interface {
	Separable
	// At is told the θ of the ranges that are asked for until it is called again.
	At(theta []float64)
	// ColumnsIn is Columns for lo ≤ i < hi. It is called from several goroutines at once, with ranges that do not overlap.
	ColumnsIn(lo, hi int, phi [][]float64)
	// DerivativesIn is Derivatives for lo ≤ i < hi, likewise. It is called after all of ColumnsIn at the same θ.
	DerivativesIn(lo, hi int, c []float64, jac [][]float64)
}

// A Strip is a column that is zero before point First and after its last value; the zero value is zero everywhere.
type Strip struct {
	First  int       // number of the first point
	Values []float64 // from there on; elsewhere it is 0
}

// Bounds returns the points First ≤ i < end between which the strip has values.
func (s Strip) Bounds() (first, end int) { return s.First, s.First + len(s.Values) }

// A Prior pulls a parameter towards Mean with standard uncertainty Sigma; Sigma 0 means no prior.
type Prior struct{ Mean, Sigma float64 }

// SeparableProblem is the input of SeparableSolver.Fit. Slices are not changed. “Linear” below counts the fixed columns.
type SeparableProblem struct {
	Model       Separable // of the data
	Fixed       []Strip   // more columns φ_j, which θ does not move; their c follow those of the model
	Y           []float64 // data, length points
	Sigma       []float64 // standard uncertainty of each point, all > 0; nil means 1
	Theta       []float64 // starting values
	Lower       []float64 // bounds of θ; nil means none; equal bounds hold a parameter fixed
	Upper       []float64 // as Lower
	ThetaPrior  []Prior   // nil or length nonlinear
	LinearPrior []Prior   // nil or length linear, fixed columns included
	NonNegative []bool    // nil or the same length: c_j ≥ 0
}

// Settings steers a fit; its zero value is the default.
type Settings struct {
	MaxIterations  int // 0 means 100
	MaxEvaluations int // evaluations of the model without its derivatives; 0 means 10000
	// A fit has converged when a step promises and brings a relative reduction of the objective (sum of squares plus
	// penalty) of at most RelTolerance, or when the step is at most StepTolerance of the parameters, both measured with
	// each parameter in units of the length of its column of derivatives. 0 means 1e-10. A reduction that
	// cannot be told from the rounding of the sum of squares ends a fit as converged, whatever the tolerances.
	RelTolerance  float64
	StepTolerance float64 // see RelTolerance; 0 means 1e-10
	// SpareLast ends a fit before the step that is within the tolerances instead of after it: for fits that are gone on
	// with, with other weights.
	SpareLast bool
	// Onward leaves out what only the end of the last fit is asked for, the covariance: for fits that are gone on with. Nothing else
	// of the result changes.
	Onward bool
}

// Status says how a fit ended.
type Status int

// The ends of a fit.
const (
	NotRun Status = iota
	Converged
	IterationLimit
	EvaluationLimit
	Cancelled
	Stuck // no step lowers the sum of squares and the gradient is not zero
)

// A SeparableResult is what SeparableSolver.Fit found.
type SeparableResult struct {
	Status     Status    // how the fit ended
	Iterations int       // iterations that it took
	Theta      []float64 // nonlinear parameters
	C          []float64 // linear parameters
	Fitted     []float64 // Σ c_j φ_j, length points
	SumSquares float64   // Σ ((y − fitted)/σ)², without priors
	Penalty    float64   // Σ ((p − mean)/sigma)² of the priors
	// Covariance of (c, θ), row-major, linear+nonlinear square, from the inverse normal matrix without scaling by χ²;
	// rows of parameters at a bound (c_j = 0 under NonNegative, θ fixed or at a bound) are zero, except that ZeroVariance
	// gives the variance a linear parameter at its bound would have were it free (+Inf if the data do not determine it),
	// and the ordinary variance of the others. Nil after Cancelled or if the derivatives are not finite. With
	// undetermined parameters it is the inverse of the determined part, so that their variances are too small.
	// Under Onward it is empty, and ZeroVariance and Undetermined are nil.
	Covariance   []float64
	ZeroVariance []float64 // length linear
	// Undetermined lists the parameters (index into (c, θ)) that the data do not determine.
	Undetermined []int
}

func (s Settings) orDefaults() Settings {
	d := Settings{MaxIterations: 100, MaxEvaluations: 10000, RelTolerance: 1e-10, StepTolerance: 1e-10}
	return Settings{
		MaxIterations:  cmp.Or(s.MaxIterations, d.MaxIterations),
		MaxEvaluations: cmp.Or(s.MaxEvaluations, d.MaxEvaluations),
		RelTolerance:   cmp.Or(s.RelTolerance, d.RelTolerance),
		StepTolerance:  cmp.Or(s.StepTolerance, d.StepTolerance),
		SpareLast:      s.SpareLast,
		Onward:         s.Onward,
	}
}
