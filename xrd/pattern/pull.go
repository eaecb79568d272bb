package pattern

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// mostPull is the largest change of a logarithm that WidthPull tells: lines of which nothing but the prior is known say no more.
const mostPull = 1.0

// WidthPull returns by how much the logarithm of the scale of phase p would change if the priors of its size and strain, which draw
// broad and weak lines towards the width that the instrument has, were let go; lines that are drawn in lose their feet to the
// background. It is 0 where counts outweigh the priors.
func (f *Fit) WidthPull(p int) float64 {
	if p < 0 || p >= len(f.pulls) {
		return 0
	}
	return f.pulls[p]
}

// widthPull works it out from the covariance of the fit: without the priors of some parameters, all would be θ + C P(I − C P)⁻¹(θ − m),
// to first order, with the diagonal P of 1/σ² and the means m of these priors.
func (f *Fit) widthPull(p int, cov []float64) float64 {
	if !(f.Scales[p] > 0) {
		return 0
	}
	linear, size := f.model.linear(), f.model.linear()+len(f.model.free)
	at := func(i, j int) float64 { return cov[i*size+j] }
	var place []int
	var weight, off []float64
	for i, k := range f.model.free {
		q := f.model.params[k]
		if q.Phase == p && (q.Kind == Size || q.Kind == Strain) && q.Prior.Sigma > 0 {
			w := 1 / (q.Prior.Sigma * q.Prior.Sigma)
			place, weight, off = append(place, linear+i), append(weight, w), append(off, w*(q.Value-q.Prior.Mean))
		}
	}
	if len(place) == 0 {
		return 0
	}
	a, z := mat.NewDense(len(place), len(place), nil), mat.NewVecDense(len(place), nil)
	for i := range place {
		for j := range place {
			a.Set(i, j, -weight[i]*at(place[i], place[j]))
		}
		a.Set(i, i, 1+a.At(i, i))
	}
	if z.SolveVec(a, mat.NewVecDense(len(off), off)) != nil {
		return mostPull
	}
	var change float64
	for i, k := range place {
		change += at(p, k) * z.AtVec(i) / f.Scales[p]
	}
	if math.IsNaN(change) {
		return mostPull
	}
	return max(-mostPull, min(mostPull, change))
}
