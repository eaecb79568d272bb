package leastsq

import "math"

// A Model is y = f(p) at a number of points. Slices handed to its methods belong to the solver; the model fills them and
// keeps none.
type Model interface {
	// Size returns the number of points and of parameters.
	Size() (points, parameters int)
	// Values fills y[i] with the model at point i.
	Values(p, y []float64)
}

// A Differentiable model knows its derivatives; those of the others are formed by central differences.
type Differentiable interface {
	Model
	// Derivatives fills jac[k][i] with ∂y_i/∂p_k. It is called after Values with the same p.
	Derivatives(p []float64, jac [][]float64)
}

// A Problem is the input of Fit. Slices are not changed.
type Problem struct {
	Model Model
	Y     []float64 // data, length points
	Sigma []float64 // standard uncertainty of each point, all > 0; nil means 1
	Start []float64 // starting values
	Lower []float64 // bounds; nil means none; equal bounds hold a parameter fixed
	Upper []float64
	Prior []Prior // nil or length parameters
}

// A Result is what Fit found.
type Result struct {
	Status      Status
	Iterations  int
	Evaluations int // of the model, those for differences not counted
	Parameters  []float64
	Fitted      []float64
	SumSquares  float64 // Σ ((y − fitted)/σ)², without priors
	Penalty     float64 // Σ ((p − mean)/sigma)² of the priors
	// Covariance of the parameters, row-major, (JᵀWJ)⁻¹ with the priors, without scaling by χ². Rows of parameters that
	// are fixed or at a bound are zero. Nil after Cancelled or if the derivatives are not finite. With undetermined parameters it is the inverse of the
	// determined part.
	Covariance []float64
	// Undetermined lists the parameters that the data do not determine.
	Undetermined []int

	freedom int
}

// DegreesOfFreedom returns the number of data and priors less that of the free parameters.
func (r Result) DegreesOfFreedom() int { return r.freedom }

// ResidualSD returns √((SumSquares + Penalty)/DegreesOfFreedom), NaN without degrees of freedom. For data of unknown
// uncertainty (Sigma nil) it estimates the standard uncertainty of a datum.
func (r Result) ResidualSD() float64 {
	if r.freedom <= 0 {
		return math.NaN()
	}
	return math.Sqrt((r.SumSquares + r.Penalty) / float64(r.freedom))
}

// StandardUncertainties returns the square roots of the diagonal of Covariance: right when Sigma is.
func (r Result) StandardUncertainties() []float64 {
	n := len(r.Parameters)
	u := make([]float64, n)
	for k := range r.Covariance[:min(n, len(r.Covariance))] {
		u[k] = math.Sqrt(r.Covariance[k*n+k])
	}
	return u
}

// ScaledUncertainties returns StandardUncertainties times ResidualSD: right when only the ratios of Sigma are, and what
// NIST certifies as standard deviations of the estimates.
func (r Result) ScaledUncertainties() []float64 {
	u, sd := r.StandardUncertainties(), r.ResidualSD()
	for k := range u {
		u[k] *= sd
	}
	return u
}

// differences makes a model differentiable by central differences.
type differences struct {
	Model
	lower, upper []float64
	typical      []float64 // |start|, for parameters that pass through 0
	p            []float64
	above, below []float64
}

// Derivatives uses steps of ε^⅓ relative to each parameter, where rounding and curvature balance; a step is shortened
// where it would leave the bounds.
func (d *differences) Derivatives(p []float64, jac [][]float64) {
	copy(d.p, p)
	for k, v := range p {
		size := max(math.Abs(v), d.typical[k])
		if size == 0 {
			size = 1
		}
		h := math.Cbrt(epsilon) * size
		high, low := min(v+h, d.upper[k]), max(v-h, d.lower[k])
		d.p[k] = high
		d.Values(d.p, d.above)
		d.p[k] = low
		d.Values(d.p, d.below)
		d.p[k] = v
		for i := range jac[k] {
			jac[k][i] = 0
			if high > low {
				jac[k][i] = (d.above[i] - d.below[i]) / (high - low)
			}
		}
	}
}
