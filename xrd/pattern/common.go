package pattern

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// What intensities lose or gain with the angle for a reason that has nothing to do with the structures (a rough or porous surface, a beam
// longer than the specimen, a wrong slit or monochromator, warmth) moves the displacement parameters of all phases alike. Each is held
// near that of its structure, some more than others, so that the scales move apart.

// A CommonDeltaB is a change that the displacement parameters of all phases share.
type CommonDeltaB struct {
	Value   float64   // Å²; below 0 where intensities are too low at low angles
	U       float64   // its standard uncertainty
	Amounts []float64 // scales of all phases with it over those that were fitted
}

const (
	leastCommon = 4.0  // standard uncertainties from which a common change is there (common practice: a chance of 1 in 16,000)
	alikeChance = 1e-3 // chance below which what is left is not common (common practice)
)

// CommonDeltaB returns the change that the displacement parameters of all phases share, and false for none.
func (f *Fit) CommonDeltaB() (CommonDeltaB, bool) {
	c := f.common
	if c == nil {
		return CommonDeltaB{}, false
	}
	out := *c
	out.U *= f.Agreement.BerarLelann
	return out, math.Abs(out.Value) > leastCommon*out.U
}

// commonDeltaB works it out from the covariance of the fit, nil for a fit of less than two phases or one in which they do not move alike.
// Parameters b of covariance C, fitted with what is expected of them, 0 ± σ, P = diag 1/σ², are x = (I − CP)⁻¹b ± V by the data alone,
// V⁻¹ = C⁻¹ − P. With x = β + δ, δ = 0 ± σ, the weights of x are (V + P⁻¹)⁻¹ = P − PCP, and those times x are Pb:
//
//	β = Σ b/σ² / Σ(P − PCP),   var β = 1/Σ(P − PCP),   χ² = xᵀPb − β² Σ(P − PCP).
//
// With β expected in the place of 0 all parameters would be θ + cov(θ, b) P β, to first order.
func (f *Fit) commonDeltaB(cov []float64) *CommonDeltaB {
	linear, size := f.model.linear(), f.model.linear()+len(f.model.free)
	var at []int
	var b, p []float64
	for i, k := range f.model.free {
		q := f.model.params[k]
		if q.Kind == Thermal && q.Prior.Sigma > 0 && !q.AtBound() && f.Scales[q.Phase] > 0 {
			at, b, p = append(at, linear+i), append(b, q.Value-q.Prior.Mean), append(p, 1/(q.Prior.Sigma*q.Prior.Sigma))
		}
	}
	n := len(at)
	if n < 2 {
		return nil
	}
	var sum, weight float64
	a, x := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		sum += b[i] * p[i]
		weight += p[i]
		for j := range n {
			c := cov[at[i]*size+at[j]]
			weight -= p[i] * c * p[j]
			a.Set(i, j, -c*p[j])
		}
		a.Set(i, i, 1+a.At(i, i))
	}
	if !(weight > 0) || x.SolveVec(a, mat.NewVecDense(n, b)) != nil {
		return nil
	}
	out := CommonDeltaB{Value: sum / weight, U: 1 / math.Sqrt(weight), Amounts: make([]float64, len(f.Scales))}
	chi2 := -out.Value * out.Value * weight
	for i := range n {
		chi2 += x.AtVec(i) * p[i] * b[i]
	}
	if !(distuv.ChiSquared{K: float64(n - 1)}.Survival(chi2) > alikeChance) {
		return nil
	}
	for k, s := range f.Scales {
		out.Amounts[k] = 1
		if !(s > 0) {
			continue
		}
		var change float64
		for i := range n {
			change += cov[k*size+at[i]] * p[i] * out.Value / s
		}
		out.Amounts[k] = math.Exp(max(-mostPull, min(mostPull, change)))
	}
	return &out
}
