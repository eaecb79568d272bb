package quantify

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Repeats tells how several scans of one specimen agree.
type Repeats struct {
	Scans     int     // that were taken together
	ChiSquare float64 // of the amounts about what all scans agree on, with counting and the scatter of lines as uncertainty
	Freedom   int     // degrees of freedom of ChiSquare
	P         float64 // probability of a larger ChiSquare by chance
	Between   float64 // relative standard deviation of amounts between scans beyond counting
}

// A combination finds the amounts that several scans agree on. Amount a of phase p in scan i is k_i θ_p times what counting
// and the scan leave open: a model of random effects on the logarithms,
//
//	ln a_ip = ln k_i + ln θ_p + e_ip + b_ip,  cov e_i = counting of scan i,  var b = τ²,
//
// solved by generalised least squares; τ² is that which makes χ² what it should be by chance (Paule & Mandel, J. Res. NBS
// 87 (1982) 377; for several log-ratios Jackson, White & Riley, Stat. Med. 31 (2012) 3805; both from memory). Since a phase
// may have an amount of 0 in one of the scans, the logarithm is that of the fitted amount: Gauss–Newton with (a − kθ)/(kθ)
// as residual, which is Fisher scoring of a logarithmic link.
//
// A phase takes part when it is not Absent and some scan shows it; what is not there has nothing to vary. The scatter of
// lines is not taken to average out beyond what the scans differ by: what is wrong with a structure is wrong in every scan.
type combination struct {
	scans []observed
	rows  []row
	phase []int // numbers of the phases that take part; unknown number j is ln θ of phase[j], then follow the ln k
	scan  []int // numbers of the scans that have rows

	design *mat.Dense
	x      *mat.VecDense // the unknowns
	gain   mat.Dense     // derivative of the unknowns to the residuals at the solution
	ok     bool          // the unknowns are determined

	factors []float64
	repeats Repeats
}

// A row is the amount of one phase in one scan, with the numbers of the unknowns it depends on.
type row struct{ scan, phase, theta, k int }

// newCombination combines scans; it reports false when they have no phase in common, so that amounts cannot be compared.
func newCombination(scans []observed, roles []Role) (*combination, bool) {
	c := &combination{scans: scans}
	c.choose(roles)
	c.repeats = Repeats{Scans: len(scans), P: 1, Freedom: max(0, len(c.rows)-len(c.phase)-max(0, len(c.scan)-1))}
	free := float64(c.repeats.Freedom)
	c.start()
	if c.ok = c.determined(); !c.ok {
		return c, false
	}
	c.repeats.ChiSquare = c.solve(0, true)
	if free > 0 {
		c.repeats.P = distuv.ChiSquared{K: free}.Survival(c.repeats.ChiSquare)
	}
	if c.solve(0, false) > free && free > 0 {
		c.repeats.Between = bisect(func(tau float64) bool { return c.solve(tau, false) > free })
		c.solve(c.repeats.Between, false)
	}
	return c, true
}

// bisect returns where a condition that holds at 0 ceases to hold, to the last digits; no farther than mostBetween.
func bisect(holds func(float64) bool) float64 {
	lo, hi := 0.0, mostBetween
	for range 50 {
		if mid := (lo + hi) / 2; holds(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// mostBetween is the largest relative standard deviation between scans that is told: scans that differ by more are not of
// one specimen.
const mostBetween = 4.0

// choose lists what takes part.
func (c *combination) choose(roles []Role) {
	theta := map[int]int{}
	for p, role := range roles {
		seen := slices.ContainsFunc(c.scans, func(o observed) bool { return o.amounts[p] > 0 && !math.IsInf(o.amounts[p], 0) })
		if role != Absent && seen {
			theta[p] = len(c.phase)
			c.phase = append(c.phase, p)
		}
	}
	for i, o := range c.scans {
		first := len(c.rows)
		for _, p := range c.phase {
			if !math.IsInf(o.zeroU[p], 0) {
				c.rows = append(c.rows, row{i, p, theta[p], len(c.phase) + len(c.scan) - 1})
			}
		}
		if len(c.rows) > first {
			c.scan = append(c.scan, i)
		}
	}
}

// start takes factors from the sums of the phases that a scan shares with the first, and amounts from the mean of all scans.
func (c *combination) start() {
	n := len(c.phase) + max(0, len(c.scan)-1)
	c.factors = make([]float64, len(c.scans))
	if n == 0 {
		return
	}
	c.design, c.x = mat.NewDense(len(c.rows), n, nil), mat.NewVecDense(n, nil)
	for j, i := range c.scan {
		var here, first float64
		for _, p := range c.phase {
			if a := c.scans[c.scan[0]]; !math.IsInf(a.zeroU[p], 0) && !math.IsInf(c.scans[i].zeroU[p], 0) {
				here += c.scans[i].amounts[p]
				first += a.amounts[p]
			}
		}
		if j > 0 && here > 0 && first > 0 {
			c.x.SetVec(len(c.phase)+j-1, math.Log(here/first))
		}
	}
	mean := make([]float64, len(c.phase))
	for i, r := range c.rows {
		c.design.Set(i, r.theta, 1)
		if r.scan != c.scan[0] {
			c.design.Set(i, r.k, 1)
		}
		mean[r.theta] += c.scans[r.scan].amounts[r.phase] / math.Exp(c.lnK(r))
	}
	for j, m := range mean {
		c.x.SetVec(j, math.Log(m))
	}
}

// lnK returns the logarithm of the factor of the scan of a row.
func (c *combination) lnK(r row) float64 {
	if r.scan == c.scan[0] {
		return 0
	}
	return c.x.AtVec(r.k)
}

// model returns the amount that a row should have.
func (c *combination) model(r row) float64 { return math.Exp(c.x.AtVec(r.theta) + c.lnK(r)) }

// determined reports whether the scans are linked by phases that they share, so that their amounts can be compared.
func (c *combination) determined() bool {
	if len(c.rows) == 0 {
		return false
	}
	var svd mat.SVD
	return svd.Factorize(c.design, mat.SVDNone) && svd.Rank(1e-9) == c.x.Len()
}

// solve finds the unknowns for a standard deviation τ between scans, with the scatter of lines as a difference between
// scans or without it, and returns χ².
func (c *combination) solve(tau float64, scattered bool) (chi2 float64) {
	for range 200 {
		var chol, normal mat.Cholesky
		var weighted, step mat.VecDense
		var vx, h mat.Dense
		z := c.residual()
		if !chol.Factorize(c.covariance(tau, scattered)) || chol.SolveTo(&vx, c.design) != nil || chol.SolveVecTo(&weighted, z) != nil {
			break
		}
		h.Mul(c.design.T(), &vx)
		if !normal.Factorize(symmetric(&h)) || normal.SolveTo(&c.gain, vx.T()) != nil {
			break
		}
		step.MulVec(&c.gain, z)
		chi2 = mat.Dot(z, &weighted)
		if c.move(&step) {
			break
		}
	}
	return chi2
}

// least is the smallest amount that is told from 0, over the largest of its phase in a scan.
const least = 1e-9

// move takes a step, no longer than a factor of e, and reports whether nothing has moved.
func (c *combination) move(step *mat.VecDense) bool {
	still := true
	for j := range step.Len() {
		x := c.x.AtVec(j) + math.Max(-1, math.Min(1, step.AtVec(j)))
		if j < len(c.phase) {
			x = math.Max(x, c.floor(j))
		}
		still = still && math.Abs(x-c.x.AtVec(j)) < 1e-12
		c.x.SetVec(j, x)
	}
	return still
}

// floor returns the smallest value of ln θ of unknown number j.
func (c *combination) floor(j int) float64 {
	var most float64
	for _, r := range c.rows {
		if r.theta == j {
			most = math.Max(most, c.scans[r.scan].amounts[r.phase]/math.Exp(c.lnK(r)))
		}
	}
	return math.Log(least * most)
}

// residual returns (a − kθ)/(kθ) of every row.
func (c *combination) residual() *mat.VecDense {
	z := mat.NewVecDense(len(c.rows), nil)
	for i, r := range c.rows {
		z.SetVec(i, c.scans[r.scan].amounts[r.phase]/c.model(r)-1)
	}
	return z
}

// covariance returns that of the residuals: blocks of counting for each scan, and τ² on the diagonal.
func (c *combination) covariance(tau float64, scattered bool) *mat.SymDense {
	v := mat.NewSymDense(len(c.rows), nil)
	for i, r := range c.rows {
		for j := i; j < len(c.rows) && c.rows[j].scan == r.scan; j++ {
			s, q := c.scans[r.scan], c.rows[j].phase
			x := c.relative(s.counting, r, c.rows[j])
			if scattered {
				x += c.relative(s.scatters, r, c.rows[j])
			}
			if i == j {
				x += tau*tau + least*least
				if s.amounts[q] == 0 {
					u := s.zeroU[q] / c.model(r)
					x += u * u
				}
			}
			v.SetSym(i, j, x)
		}
	}
	return v
}

// relative turns a covariance of the logarithms of two amounts of one scan into that of their residuals.
func (c *combination) relative(cov [][]float64, a, b row) float64 {
	o := c.scans[a.scan].amounts
	return cov[a.phase][b.phase] * o[a.phase] / c.model(a) * o[b.phase] / c.model(b)
}

// result returns what all scans say together, the factor of each, and how they agree. Of the phases that take no part, the
// amount is the mean of what scans leave possible.
func (c *combination) result() (observed, []float64, *Repeats) {
	n := len(c.scans[0].amounts)
	o := observed{amounts: make([]float64, n), zeroU: make([]float64, n), volume: make([]float64, n), counting: zeros(n),
		scatters: zeros(n), scatterFree: make([]float64, n), between: zeros(n), betweenFree: math.Max(1, float64(c.repeats.Freedom))}
	for j, i := range c.scan {
		c.factors[i] = 1
		if j > 0 {
			c.factors[i] = math.Exp(c.x.AtVec(len(c.phase) + j - 1))
		}
	}
	for p := range n {
		c.pool(&o, p)
	}
	if c.ok {
		c.spread(&o)
	}
	return o, c.factors, &c.repeats
}

// pool fills in what is a mean over the scans: the amount of a phase that takes no part, the uncertainty it has at 0, its
// cell, and the scatter of its lines.
func (c *combination) pool(o *observed, p int) {
	var weight, sum, shown, volume float64
	o.scatterFree[p] = 1
	for _, i := range c.scan {
		s := c.scans[i]
		if u := s.zeroU[p] / c.factors[i]; u > 0 && !math.IsInf(u, 0) {
			weight += 1 / (u * u)
			sum += s.amounts[p] / c.factors[i] / (u * u)
			o.scatterFree[p] = math.Max(o.scatterFree[p], s.scatterFree[p])
			volume += math.Log(s.volume[p])
			shown++
		}
	}
	o.zeroU[p], o.volume[p] = 1/math.Sqrt(weight), 1
	if shown > 0 {
		o.amounts[p], o.volume[p] = sum/weight, math.Exp(volume/shown)
	}
	for _, i := range c.scan {
		for q, v := range c.scans[i].scatters[p] {
			o.scatters[p][q] += v / math.Sqrt(c.shown(p)*c.shown(q))
		}
	}
}

// shown returns how many scans tell of a phase, at least 1.
func (c *combination) shown(p int) (n float64) {
	for _, i := range c.scan {
		if !math.IsInf(c.scans[i].zeroU[p], 0) {
			n++
		}
	}
	return math.Max(1, n)
}

// spread fills in the amounts that the scans agree on, with the uncertainty that each scan hands on to them.
func (c *combination) spread(o *observed) {
	counting, between, optics := mat.Dense{}, mat.Dense{}, mat.VecDense{}
	counting.Product(&c.gain, c.covariance(0, false), c.gain.T())
	between.Mul(&c.gain, c.gain.T())
	shift := mat.NewVecDense(len(c.rows), nil)
	for i, r := range c.rows {
		if s := c.scans[r.scan]; s.optics != nil {
			shift.SetVec(i, s.optics[r.phase]*s.amounts[r.phase]/c.model(r))
			o.optics = make([]float64, len(o.amounts))
		}
	}
	optics.MulVec(&c.gain, shift) // one instrument: what is wrong with its optics is wrong in every scan
	tau2 := c.repeats.Between * c.repeats.Between
	for a, p := range c.phase {
		o.amounts[p] = math.Exp(c.x.AtVec(a))
		if o.optics != nil {
			o.optics[p] = optics.AtVec(a)
		}
		for b, q := range c.phase {
			o.counting[p][q], o.between[p][q] = counting.At(a, b), tau2*between.At(a, b)
		}
	}
	o.common(tau2)
}

// common takes from the scatter of lines what scans differ by: that is not wrong in every scan alike, and stands in the budget
// as the difference between them.
func (o *observed) common(tau2 float64) {
	share := make([]float64, len(o.scatters))
	for p, row := range o.scatters {
		if row[p] > 0 {
			share[p] = math.Sqrt(math.Max(0, 1-tau2/row[p]))
		}
	}
	for p, row := range o.scatters {
		for q := range row {
			row[q] *= share[p] * share[q]
		}
	}
}

// symmetric returns the symmetric part of a square matrix.
func symmetric(m *mat.Dense) *mat.SymDense {
	n, _ := m.Dims()
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, (m.At(i, j)+m.At(j, i))/2)
		}
	}
	return s
}
