package quantify

import (
	"errors"
	"math"
)

// ErrNoAmount says that there is nothing to share out; test with errors.Is.
var ErrNoAmount = errors.New("no intensity to share out")

// shares scales amounts to a sum of 100.
func shares(amounts []float64) ([]float64, error) {
	var sum float64
	for _, a := range amounts {
		sum += a
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return nil, ErrNoAmount
	}
	out := make([]float64, len(amounts))
	for i, a := range amounts {
		out[i] = 100 * (a / sum) // a share is at most 1 exactly; 100 a / sum can round above 100
	}
	return out, nil
}

// shareCovariance returns the covariance of shares (per cent) from that of the logarithms of the amounts:
// ∂w_p/∂ln a_q = w_p (δ_pq − w_q/100).
func shareCovariance(w []float64, logCov [][]float64) [][]float64 {
	return sandwich(shareSlopes(w), logCov)
}

// shareSlopes returns ∂w_p/∂ln a_q of shares w (per cent).
func shareSlopes(w []float64) [][]float64 {
	n := len(w)
	j := make([][]float64, n)
	for p := range j {
		j[p] = make([]float64, n)
		for q := range j[p] {
			j[p][q] = -w[p] * w[q] / 100
		}
		j[p][p] += w[p]
	}
	return j
}

// sandwich returns J C Jᵀ.
func sandwich(j, c [][]float64) [][]float64 {
	out := make([][]float64, len(j))
	for p := range out {
		out[p] = make([]float64, len(j))
		for q := range out[p] {
			for a := range c {
				for b := range c {
					out[p][q] += j[p][a] * c[a][b] * j[q][b]
				}
			}
		}
	}
	return out
}

// z95 is the 97.5 % quantile of the Gaussian distribution.
const z95 = 1.959963984540054

// Interval returns the interval of a percentage that extends k standard uncertainties u, symmetric in the logit so that
// it stays inside 0 to 100. Where u is no longer small beside the percentage, the logit would stretch the far side without
// bound: it is held to twice the Gaussian distance. A value at or beyond 0 or 100 has the Gaussian interval cut there.
func Interval(percent, u, k float64) (lo, hi float64) {
	f, d := percent/100, k*u
	if !(f > 0) || !(f < 1) {
		return min(100, max(0, percent-d)), min(100, max(0, percent+d))
	}
	logit := math.Log(f / (1 - f))
	h := d / 100 / (f * (1 - f))
	back := func(x float64) float64 { return 100 / (1 + math.Exp(-x)) }
	return max(back(logit-h), percent-2*d), min(back(logit+h), percent+2*d)
}
