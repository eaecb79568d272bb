package leastsq

import (
	"fmt"
	"math"
)

// largest is the number of derivatives above which a problem is refused rather than memory exhausted (8 GB).
const largest = 1 << 30

func badInput(format string, a ...any) error {
	return fmt.Errorf("%w: "+format, append([]any{ErrInput}, a...)...)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func (p SeparableProblem) check() error {
	if p.Model == nil {
		return badInput("no model")
	}
	m, l, k := p.Model.Size()
	l += len(p.Fixed)
	if m < 1 || l < 1 || k < 0 || l > largest || k > largest || m > largest/(l+k) {
		return badInput("%d points with %d linear and %d nonlinear parameters", m, l, k)
	}
	if err := checkData(p.Y, p.Sigma, m); err != nil {
		return err
	}
	for j, column := range p.Fixed {
		if first, end := column.Bounds(); first < 0 || first > end || end > m {
			return badInput("fixed column %d spans points %d to %d of %d", j, first, end, m)
		}
	}
	if err := checkParameters(p.Theta, p.Lower, p.Upper, k); err != nil {
		return err
	}
	if p.NonNegative != nil && len(p.NonNegative) != l {
		return badInput("%d non-negative flags for %d linear parameters", len(p.NonNegative), l)
	}
	if err := checkPriors(p.ThetaPrior, k); err != nil {
		return err
	}
	return checkPriors(p.LinearPrior, l)
}

func checkData(y, sigma []float64, points int) error {
	if len(y) != points {
		return badInput("%d data for %d points", len(y), points)
	}
	for i, v := range y {
		if !finite(v) {
			return badInput("datum %d is %v", i, v)
		}
	}
	if sigma != nil && len(sigma) != points {
		return badInput("%d standard uncertainties for %d points", len(sigma), points)
	}
	for i, v := range sigma {
		if !(v > 0) || !finite(v) || !finite(1/v) {
			return badInput("standard uncertainty %d is %v", i, v)
		}
	}
	return nil
}

func checkParameters(start, lower, upper []float64, n int) error {
	if len(start) != n {
		return badInput("%d starting values for %d parameters", len(start), n)
	}
	if lower != nil && len(lower) != n || upper != nil && len(upper) != n {
		return badInput("%d lower and %d upper bounds for %d parameters", len(lower), len(upper), n)
	}
	low, high := bounds(lower, math.Inf(-1), n), bounds(upper, math.Inf(1), n)
	for i, v := range start {
		if !finite(v) {
			return badInput("starting value %d is %v", i, v)
		}
		if !(low[i] <= high[i]) || math.IsInf(low[i], 1) || math.IsInf(high[i], -1) {
			return badInput("bounds %v and %v of parameter %d", low[i], high[i], i)
		}
	}
	return nil
}

func checkPriors(priors []Prior, n int) error {
	if priors != nil && len(priors) != n {
		return badInput("%d priors for %d parameters", len(priors), n)
	}
	for i, q := range priors {
		if !(q.Sigma >= 0) || !finite(q.Sigma) || !finite(q.Mean) || q.Sigma > 0 && !finite(1/(q.Sigma*q.Sigma)) {
			return badInput("prior %d is %v ± %v", i, q.Mean, q.Sigma)
		}
	}
	return nil
}
