package quantify

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/xrd/pattern"
)

// Repeats tells how several scans of one specimen agree.
type Repeats struct {
	Scans     int
	ChiSquare float64 // of the amounts about what all scans agree on, with counting and the scatter of lines as uncertainty
	Freedom   int
	P         float64 // probability of a larger ChiSquare by chance
	Between   float64 // relative standard deviation between scans beyond counting
}

// joint is the uncertainty of amounts that rest on several scans: covariances of their logarithms.
type joint struct {
	counting, scattered, between [][]float64
	scatterFree                  []float64
	betweenFree                  float64
}

// of returns the budget of some phases.
func (j *joint) of(members []int) []budgetPart {
	n := len(members)
	few := func(free func(p int) float64) []float64 {
		out := make([]float64, n)
		for i, p := range members {
			out[i] = free(p)
		}
		return out
	}
	return []budgetPart{
		{sourceCounting, part(j.counting, members), nil},
		{sourceScatter, part(j.scattered, members), few(func(p int) float64 { return j.scatterFree[p] })},
		{sourceBetween, part(j.between, members), few(func(int) float64 { return j.betweenFree })},
	}
}

func part(m [][]float64, members []int) [][]float64 {
	out := zeros(len(members))
	for i, p := range members {
		for j, q := range members {
			out[i][j] = m[p][q]
		}
	}
	return out
}

// oneScan is what a scan says of the amounts of the phases that its fit has: numbers of the phases, S/RIR times the volume
// ratio, and the covariances of counting and of the scatter of lines relative to the amounts (of counting absolute).
type oneScan struct {
	phases              []int
	amounts             []float64
	counting, scattered [][]float64
	scatterFree         []float64
}

// scansOf turns the fits of an input into what each says.
func (in Input) scansOf() []oneScan {
	var out []oneScan
	for i, f := range append([]*pattern.Fit{in.Fit}, in.More...) {
		sc := in.scatters
		if i > 0 {
			sc = scatters(f)
		}
		var s oneScan
		var own []int
		for p, phase := range in.Fit.Setup.Phases {
			for k, other := range f.Setup.Phases {
				if other.ID == phase.ID && !math.IsInf(f.ZeroU[k], 0) && other.RIR.Value > 0 {
					s.phases, own = append(s.phases, p), append(own, k)
				}
			}
		}
		n := len(own)
		s.counting, s.scattered = zeros(n), zeros(n)
		for a, k := range own {
			unit := f.VolumeRatio(k) / f.Setup.Phases[k].RIR.Value
			s.amounts = append(s.amounts, f.Scales[k]*unit)
			s.scatterFree = append(s.scatterFree, sc[k].freedom)
			for b, l := range own {
				c, d := scaleCovariance(f, sc, k, l)
				s.counting[a][b] = c * s.amounts[a] * f.Scales[l] * f.VolumeRatio(l) / f.Setup.Phases[l].RIR.Value
				s.scattered[a][b] = d
			}
			if f.Scales[k] == 0 {
				s.counting[a][a] = f.ZeroU[k] * f.ZeroU[k] * unit * unit
			}
		}
		out = append(out, s)
	}
	return out
}

// join replaces the fit of an input by one whose scales are those that all scans agree on best: θ and a factor k for each
// scan minimise Σ (a − kθ)ᵀ V⁻¹ (a − kθ), V being the covariance of counting of each scan and a variance τ² between scans,
// relative to the amounts, that makes the sum what it should be by chance (Paule & Mandel 1982, from memory). Near the
// minimum this is the fit of all scans at once with one set of fractions and separate textures, cells and backgrounds. The
// scatter of lines is not taken to average out: what is wrong with a structure is wrong in every scan.
func (in Input) join() (Input, *Repeats) {
	scans := in.scansOf()
	s := solver{scans: scans, n: len(in.Roles)}
	r := &Repeats{Scans: len(scans), Freedom: s.freedom()}
	s.scatter = true
	s.solve(0)
	r.ChiSquare = s.chi2()
	r.P = 1
	if r.Freedom > 0 {
		r.P = distuv.ChiSquared{K: float64(r.Freedom)}.Survival(r.ChiSquare)
	}
	s.scatter = false
	r.Between = s.between(float64(r.Freedom))
	j := s.uncertainty(r.Between)
	j.betweenFree = math.Max(1, float64(r.Freedom))

	f := *in.Fit
	f.Scales, f.ZeroU = make([]float64, s.n), make([]float64, s.n)
	for p := range f.Scales {
		unit := in.Fit.VolumeRatio(p) / in.Fit.Setup.Phases[p].RIR.Value
		f.Scales[p] = math.Max(0, s.theta[p]) / unit
		if !(in.Fit.Setup.Phases[p].RIR.Value > 0) {
			f.Scales[p] = in.Fit.Scales[p]
		}
		f.ZeroU[p] = in.jointZeroU(p, s.k)
	}
	in.Fit, in.joint = &f, &j
	return in, r
}

// jointZeroU returns the standard uncertainty of a scale were it 0, from all scans, in units of the first.
func (in Input) jointZeroU(p int, k []float64) float64 {
	var sum float64
	for i, f := range append([]*pattern.Fit{in.Fit}, in.More...) {
		for q, other := range f.Setup.Phases {
			if u := f.ZeroU[q] / k[i]; other.ID == in.Fit.Setup.Phases[p].ID && u > 0 {
				sum += 1 / (u * u)
			}
		}
	}
	return 1 / math.Sqrt(sum)
}

// solver finds the amounts that several scans agree on.
type solver struct {
	scans   []oneScan
	n       int  // phases
	scatter bool // count the scatter of lines as a difference between scans

	theta []float64 // amounts, in units of the first scan
	k     []float64 // factor of each scan, that of the first 1
	gain  *mat.Dense
	v     []*mat.SymDense
}

// freedom returns how many amounts there are more than unknowns.
func (s *solver) freedom() int {
	seen := map[int]bool{}
	free := 1 - len(s.scans)
	for _, c := range s.scans {
		free += len(c.phases)
		for _, p := range c.phases {
			seen[p] = true
		}
	}
	return max(0, free-len(seen))
}

// jointCycles is how often the solution is renewed; its unknowns enter as products, and weights change little.
const jointCycles = 40

// solve finds θ and k for a relative standard deviation between scans.
func (s *solver) solve(tau float64) {
	s.start()
	for range jointCycles {
		s.weigh(tau)
		before := append([]float64(nil), s.theta...)
		s.step()
		moved := 0.0
		for p := range before {
			if s.theta[p] > 0 {
				moved = math.Max(moved, math.Abs(s.theta[p]-before[p])/s.theta[p])
			}
		}
		if moved < 1e-10 {
			return
		}
	}
}

// start takes θ from the first scan that has each phase and k from the sums.
func (s *solver) start() {
	s.theta, s.k = make([]float64, s.n), make([]float64, len(s.scans))
	known := make([]bool, s.n)
	for i, c := range s.scans {
		var own, here float64
		for a, p := range c.phases {
			if known[p] {
				own += s.theta[p]
				here += c.amounts[a]
			}
		}
		s.k[i] = 1
		if i > 0 && own > 0 && here > 0 {
			s.k[i] = here / own
		}
		for a, p := range c.phases {
			if !known[p] {
				s.theta[p], known[p] = c.amounts[a]/s.k[i], true
			}
		}
	}
}

// weigh renews the covariance of each scan.
func (s *solver) weigh(tau float64) {
	s.v = s.v[:0]
	for i, c := range s.scans {
		if len(c.phases) == 0 { // it says nothing
			s.v = append(s.v, nil)
			continue
		}
		v := mat.NewSymDense(len(c.phases), nil)
		for a, p := range c.phases {
			for b := a; b < len(c.phases); b++ {
				x := c.counting[a][b]
				if s.scatter {
					x += c.scattered[a][b] * c.amounts[a] * c.amounts[b]
				}
				if a == b {
					d := tau * s.k[i] * s.theta[p]
					x += d*d + 1e-18*s.k[i]*s.k[i]*total(s.theta)*total(s.theta)
				}
				v.SetSym(a, b, x)
			}
		}
		s.v = append(s.v, v)
	}
}

func total(v []float64) (sum float64) {
	for _, x := range v {
		sum += x
	}
	return sum
}

// jacobian returns the derivatives of the amounts of scan i to θ and to the factors of all scans but the first.
func (s *solver) jacobian(i int) *mat.Dense {
	c := s.scans[i]
	j := mat.NewDense(len(c.phases), s.n+len(s.scans)-1, nil)
	for a, p := range c.phases {
		j.Set(a, p, s.k[i])
		if i > 0 {
			j.Set(a, s.n+i-1, s.theta[p])
		}
	}
	return j
}

// step solves the normal equations once and keeps the gain: the derivative of the solution to the amounts of all scans.
// Where a covariance cannot be inverted, the solution stays as it is.
func (s *solver) step() {
	normal, weighted, residual, ok := s.equations()
	if !ok {
		return
	}
	for p := range s.n { // a phase that no scan can tell stays where it is
		if normal.At(p, p) == 0 {
			normal.SetSym(p, p, 1)
		}
	}
	var gain mat.Dense
	if gain.Solve(normal, weighted) != nil {
		return
	}
	var move mat.VecDense
	move.MulVec(&gain, residual)
	for p := range s.n {
		s.theta[p] = math.Max(0, s.theta[p]+move.AtVec(p))
	}
	for i := 1; i < len(s.k); i++ {
		s.k[i] = math.Max(1e-9, s.k[i]+move.AtVec(s.n+i-1))
	}
	s.gain = &gain
}

// equations returns Σ JᵀV⁻¹J, the JᵀV⁻¹ of all scans side by side, and the residuals one after the other.
func (s *solver) equations() (normal *mat.SymDense, weighted *mat.Dense, residual *mat.VecDense, ok bool) {
	size, rows := s.n+len(s.scans)-1, 0
	for _, c := range s.scans {
		rows += len(c.phases)
	}
	if rows == 0 {
		return nil, nil, nil, false
	}
	normal, weighted, residual = mat.NewSymDense(size, nil), mat.NewDense(size, rows, nil), mat.NewVecDense(rows, nil)
	at := 0
	for i, c := range s.scans {
		if len(c.phases) == 0 {
			continue
		}
		j := s.jacobian(i)
		var chol mat.Cholesky
		var vj, h mat.Dense
		if !chol.Factorize(s.v[i]) || chol.SolveTo(&vj, j) != nil {
			return nil, nil, nil, false
		}
		h.Mul(j.T(), &vj)
		for a := range size {
			for b := a; b < size; b++ {
				normal.SetSym(a, b, normal.At(a, b)+h.At(a, b))
			}
		}
		for a, p := range c.phases {
			residual.SetVec(at+a, c.amounts[a]-s.k[i]*s.theta[p])
			for b := range size {
				weighted.Set(b, at+a, vj.At(a, b))
			}
		}
		at += len(c.phases)
	}
	return normal, weighted, residual, true
}

// chi2 returns the weighted sum of squares at the solution.
func (s *solver) chi2() (sum float64) {
	for i, c := range s.scans {
		if len(c.phases) == 0 {
			continue
		}
		r := mat.NewVecDense(len(c.phases), nil)
		for a, p := range c.phases {
			r.SetVec(a, c.amounts[a]-s.k[i]*s.theta[p])
		}
		var chol mat.Cholesky
		var x mat.VecDense
		if chol.Factorize(s.v[i]) && chol.SolveVecTo(&x, r) == nil {
			sum += mat.Dot(r, &x)
		}
	}
	return sum
}

// between returns the relative standard deviation between scans that makes χ² equal to the degrees of freedom, 0 when it
// is not above them, and leaves the solution there.
func (s *solver) between(freedom float64) float64 {
	excess := func(tau float64) bool {
		s.solve(tau)
		return s.chi2() > freedom
	}
	if freedom == 0 || !excess(0) {
		s.solve(0)
		return 0
	}
	lo, hi := 0.0, 1.0
	for range 40 {
		if mid := (lo + hi) / 2; excess(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	s.solve(hi)
	return hi
}

// uncertainty spreads the uncertainty of each scan to the solution.
func (s *solver) uncertainty(tau float64) joint {
	j := joint{counting: zeros(s.n), scattered: zeros(s.n), between: zeros(s.n), scatterFree: make([]float64, s.n)}
	at := 0
	for i, c := range s.scans {
		for p := range s.n {
			for q := range s.n {
				d := s.theta[p] * s.theta[q]
				if !(d > 0) || s.gain == nil {
					continue
				}
				for a, r := range c.phases {
					g := s.gain.At(p, at+a)
					for b := range c.phases {
						j.counting[p][q] += g * c.counting[a][b] * s.gain.At(q, at+b) / d
					}
					t := tau * s.k[i] * s.theta[r]
					j.between[p][q] += g * t * t * s.gain.At(q, at+a) / d
				}
			}
		}
		at += len(c.phases)
	}
	shown := make([]float64, s.n)
	for _, c := range s.scans {
		for _, p := range c.phases {
			shown[p]++
		}
	}
	for _, c := range s.scans { // the mean of the scans that show a phase
		for a, p := range c.phases {
			for b, q := range c.phases {
				j.scattered[p][q] += c.scattered[a][b] / math.Sqrt(shown[p]*shown[q])
			}
			j.scatterFree[p] = math.Max(j.scatterFree[p], c.scatterFree[a])
		}
	}
	return j
}
