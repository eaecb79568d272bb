package plan

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/mat"

	"phasetally/refdata"
)

// An Element is a part of a measured composition, wt%, with its standard uncertainty.
type Element struct {
	Symbol        string  // of the element
	WeightPercent float64 // of the specimen
	U             float64 // standard uncertainty, wt%
}

const (
	compositionZ = 3.0  // standard uncertainties by which a composition may be missed
	sumU         = 0.05 // wt%, of the sum of all phases
	least        = 1e-6 // ratio of singular values below which amounts are left open
)

// Amounts returns the wt% of phases that make up a composition: with the mass fraction a_ep of element e in phase p, Σ a_ep w_p = c_e
// and Σ w_p = 100 by weighted least squares. Elements that are not stated say nothing. It returns ErrRequest when the composition
// leaves amounts open, or when no mixture of the phases has it.
func Amounts(phases []refdata.Phase, composition []Element) ([]float64, error) {
	if len(phases) == 0 || len(composition) == 0 {
		return nil, fmt.Errorf("%w: phases and a composition are needed", ErrRequest)
	}
	n := len(phases)
	a, c := mat.NewDense(len(composition)+1, n, nil), mat.NewVecDense(len(composition)+1, nil)
	for p := range n {
		a.Set(len(composition), p, 1/sumU)
	}
	c.SetVec(len(composition), 100/sumU)
	for e, x := range composition {
		if !(x.U > 0) || !(x.WeightPercent >= 0 && x.WeightPercent <= 100) {
			return nil, fmt.Errorf("%w: %s %g ± %g wt%%", ErrRequest, x.Symbol, x.WeightPercent, x.U)
		}
		for p, phase := range phases {
			a.Set(e, p, massFraction(phase, x.Symbol)/x.U)
		}
		c.SetVec(e, x.WeightPercent/x.U)
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) || svd.Rank(least) < n {
		return nil, fmt.Errorf("%w: the composition leaves the amounts of %s open; state more elements, fewer phases, or the wt%% of each", ErrRequest, names(phases))
	}
	var w, fitted mat.VecDense
	svd.SolveVecTo(&w, c, n)
	fitted.MulVec(a, &w)
	for e, x := range composition {
		if z := fitted.AtVec(e) - c.AtVec(e); !(math.Abs(z) < compositionZ) {
			return nil, fmt.Errorf("%w: no mixture of %s has this composition: it would have %.3g wt%% %s, not %.3g", ErrRequest, names(phases), fitted.AtVec(e)*x.U, x.Symbol, x.WeightPercent)
		}
	}
	return positiveShares(phases, composition, w.RawVector().Data)
}

// positiveShares returns amounts, to 0.01, that sum to 100; one a little below 0 is 0.
func positiveShares(phases []refdata.Phase, composition []Element, w []float64) ([]float64, error) {
	var slack, sum float64
	for _, x := range composition {
		slack = math.Max(slack, compositionZ*x.U)
	}
	for p := range w {
		if !(w[p] > -slack) {
			return nil, fmt.Errorf("%w: no mixture of %s has this composition: it would have %.3g wt%% %s", ErrRequest, names(phases), w[p], phases[p].Name)
		}
		w[p] = math.Max(0, w[p])
		sum += w[p]
	}
	most, rest := 0, 100.0
	for p := range w { // to 0.01 wt%, the largest makes up the rest
		w[p] = math.Round(w[p]*1e4/sum) / 100
		rest -= w[p]
		if w[p] > w[most] {
			most = p
		}
	}
	w[most] = math.Round(100*(w[most]+rest)) / 100
	return w, nil
}

func massFraction(p refdata.Phase, symbol string) (sum float64) {
	for _, e := range p.Composition {
		if strings.EqualFold(e.Symbol, symbol) {
			sum += e.MassFraction
		}
	}
	return sum
}

func names(phases []refdata.Phase) string {
	var out []string
	for _, p := range phases {
		out = append(out, p.Name)
	}
	return strings.Join(out, ", ")
}
