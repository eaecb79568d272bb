package pattern

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"phasetally/xrd/leastsq"
)

// refine runs variable projection with the present weights and takes over what it finds; the last of a fit with uncertainties.
func (f *Fit) refine(ctx context.Context, tolerance float64, last bool) error {
	p := f.problem()
	res, err := f.solver.Fit(ctx, p, leastsq.Settings{RelTolerance: tolerance, StepTolerance: tolerance * 1e-2, MaxIterations: f.iterationsLeft(),
		SpareLast: tolerance == settlingTolerance, Onward: !last})
	if err != nil {
		return err
	}
	if res.Status == leastsq.Cancelled {
		return ctx.Err()
	}
	if res.Covariance == nil {
		return fmt.Errorf("%w: the pattern of its phases is not finite", ErrSetup)
	}
	f.take(res)
	return nil
}

func (f *Fit) problem() leastsq.SeparableProblem {
	m := f.model
	nonlinear := len(m.free)
	p := leastsq.SeparableProblem{
		Model: m, Fixed: m.Fixed(), Y: m.setup.Intensity, Sigma: f.sigma(),
		Theta: make([]float64, nonlinear), Lower: make([]float64, nonlinear), Upper: make([]float64, nonlinear),
		ThetaPrior: make([]leastsq.Prior, nonlinear), NonNegative: f.nonNegative(),
	}
	for i, k := range m.free {
		q := m.params[k]
		p.Theta[i], p.Lower[i], p.Upper[i], p.ThetaPrior[i] = q.Value, q.Lower, q.Upper, q.Prior
	}
	return p
}

// sigma returns the standard uncertainty of every point.
func (f *Fit) sigma() []float64 {
	f.buffer = f.buffer[:0]
	for _, v := range f.Variance {
		f.buffer = append(f.buffer, math.Sqrt(v))
	}
	return f.buffer
}

// nonNegative marks the scales of phases and blank, and the coefficients of a background that is bounded.
func (f *Fit) nonNegative() []bool {
	out := make([]bool, f.model.linear())
	for j := range out {
		out[j] = j < f.model.firstBackground() || f.model.bounded
	}
	return out
}

// take stores what the next weights follow from: parameters, scales, the fitted pattern and its background.
func (f *Fit) take(res leastsq.SeparableResult) {
	m := f.model
	m.set(res.Theta)
	f.last = res
	f.Status = res.Status
	f.Iterations += res.Iterations
	f.Fitted = res.Fitted
	f.Scales = res.C[:len(m.phases):len(m.phases)]
	f.BlankScale = 0
	if m.setup.Blank != nil {
		f.BlankScale = res.C[len(m.phases)]
	}
	clear(f.Background)
	for j, column := range m.Fixed() {
		floats.AddScaled(f.Background[column.First:][:len(column.Values)], res.C[len(m.phases)+j], column.Values)
	}
}

// columns returns the pattern of each phase for unit scale.
func (f *Fit) columns() [][]float64 {
	phi := make([][]float64, len(f.model.phases))
	for j := range phi {
		phi[j] = make([]float64, len(f.Fitted))
	}
	f.model.Columns(f.last.Theta, phi)
	return phi
}
