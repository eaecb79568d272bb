package quantify

import "math"

// Amorphous returns the mass fraction of the original specimen that is not crystalline, from the mass fraction W of the
// standard in the spiked powder, its crystallinity c and the fraction R that the normalised analysis of the spiked
// powder finds of it: [1 − cW/R − (1 − c)W]/(1 − W). A negative value is returned as it is: it tells of an error in
// intensities. Derived in PRACTICE.md 1.7; c = 1 gives the textbook form.
func Amorphous(w, c, r float64) float64 {
	return (1 - c*w/r - (1-c)*w) / (1 - w)
}

// internal computes fractions of the original specimen and its amorphous part from a standard mixed in. A standard that
// the scan does not show, or an impossible amount of it, leaves them unknown.
func (p *problem) internal(a *Answer, members []int) {
	s := p.Spike
	if !(p.amounts[s.Phase] > 0) || !(s.WeightPercent > 0 && s.WeightPercent < 100) {
		return
	}
	c := s.Crystallinity
	if !(c > 0) {
		c = 1
	}
	all := append(append(append([]int{}, members...), p.phasesOf(Preparation)...), s.Phase)
	p.original(a, members, all, []extra{{c, s.CrystallinityU}},
		func(x []float64) []float64 { return spiked(x, len(members), s.WeightPercent/100) })
}

// An extra is a quantity beside the amounts that an absolute result depends on, with its standard uncertainty.
type extra struct{ value, u float64 }

// original fills in fractions of the original and its amorphous part, with uncertainties by differences: compute turns
// the logarithms of the amounts of all phases that diffract, the members first, followed by the extras, into wt% of the
// original for each member, then the amorphous part.
func (p *problem) original(a *Answer, members, all []int, extras []extra, compute func([]float64) []float64) {
	x := make([]float64, len(all)+len(extras))
	for i, k := range all {
		x[i] = math.Log(math.Max(p.amounts[k], 1e-300))
	}
	cov := zeros(len(x))
	budget := p.budget(all)
	add(cov, budget.total())
	for i, e := range extras {
		k := len(all) + i
		x[k], cov[k][k] = e.value, e.u*e.u
	}
	value := compute(x)
	j := slopes(compute, x, value)
	out := sandwich(j, cov)
	free := budget.freedom(j, out)
	for i, k := range members {
		u := math.Sqrt(math.Max(0, out[i][i]))
		a.Fractions[k].Original = interval(value[i], u, free[i])
		if d := coverage95(free[i]) * u; value[i] >= 100 { // impossible, and therefore information
			a.Fractions[k].Original = Value{value[i], value[i] - d, value[i] + d}
		}
	}
	last := len(members)
	d := coverage95(free[last]) * math.Sqrt(math.Max(0, out[last][last]))
	unseen := p.unseen(all) * (100 - value[last]) // of the original, crystalline but not told from nothing
	a.Amorphous = &Value{value[last], value[last] - d - unseen, value[last] + d}
}

// spiked returns wt% of the original for the first n phases, then its amorphous part. x holds ln amounts (the standard
// last) and the crystallinity.
func spiked(x []float64, n int, w float64) []float64 {
	k := len(x) - 2
	c := x[k+1]
	var sum float64
	for _, l := range x[:k+1] {
		sum += math.Exp(l)
	}
	r := math.Exp(x[k]) / sum
	out := make([]float64, n+1)
	for i := range n {
		out[i] = 100 * math.Exp(x[i]) / sum * c * w / r / (1 - w)
	}
	out[n] = 100 * Amorphous(w, c, r)
	return out
}

// slopes returns the Jacobian of f at x by central differences.
func slopes(f func([]float64) []float64, x, value []float64) [][]float64 {
	j := make([][]float64, len(value))
	for i := range j {
		j[i] = make([]float64, len(x))
	}
	for k := range x {
		const h = 1e-5
		up, down := append([]float64{}, x...), append([]float64{}, x...)
		up[k] += h
		down[k] -= h
		fu, fd := f(up), f(down)
		for i := range value {
			j[i][k] = (fu[i] - fd[i]) / (2 * h)
		}
	}
	return j
}
