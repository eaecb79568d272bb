package quantify

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// DefaultSpread is the square of the relative spread of intercepts that is taken when it is not stated, DefaultSpreadU its
// standard uncertainty. Equal spheres have 1/8; the cells of a random tessellation about 0.4, regions that grow together out
// of several cells tend to 1, the exponential distribution (traced in section_trace_test.go).
const (
	DefaultSpread  = 0.5
	DefaultSpreadU = 0.3
)

// A Mosaic describes a polished section whose grains are not small beside the beam's reach, and says how much each phase
// absorbs of its own lines.
//
// Model. Along a random straight line the regions of the phases follow each other. Let N_p = v_p/ℓ_p be the number of regions
// of phase p on a unit of the line, with its volume fraction v_p and mean intercept ℓ_p. Two regions that touch belong to
// different phases, and a line has no preferred sense, so the number n_pq of contacts of p and q is symmetric, n_pp = 0 and
// Σ_q n_pq = N_p; of all such tables the one without preferences, n_pq = a_p a_q, is taken. A random point of p has a mean way
// r_p = ℓ_p (1 + CV²)/2 to the end of its region (CV: relative spread of intercepts; longer regions hold more points). The
// mosaic is taken to be Markov: a region of p is left for q at the rate Q_pq = n_pq/(v_p (1 + CV²)/2), Q_pp = −Σ_q Q_pq = −1/r_p.
// Since v_p Q_pq is symmetric, v is what the line holds on average, as it must be.
//
// The expected transmission E_p(x) of a path x that starts in p then obeys dE/dx = (Q − diag μ) E with E(0) = 1 (Feynman and
// Kac). In symmetric reflection the beam reaches a point at depth z by a path z/sin θ, and leaves by another that is as long;
// the two are taken as independent but for the phase in which both begin. So phase p diffracts
//
//	I_p ∝ v_p ∫ E_p(z/sin θ)² dz = sin θ v_p ∫ E_p(x)² dx,
//
// and sin θ, the same for all, stays in the Lorentz factor of thick specimens. With V = diag v the matrix
// V^½ (Q − diag μ) V^−½ is symmetric, with eigenvectors u_k and eigenvalues λ_k < 0: E_p = Σ_k B_pk exp(λ_k x), where
// B_pk = u_pk (u_k·√v)/√v_p, and the integral is Σ_kl B_pk B_pl/(−λ_k − λ_l), with no quadrature.
//
// Limits: ℓ → 0 gives E_p = exp(−μ̄ x), the integral 1/(2μ̄) of a fine powder; ℓ → ∞ gives E_p = exp(−μ_p x) and 1/(2μ_p), the
// coarse limit. Traced through random microstructures of four alloys the fractions hold within 1 wt% (section_trace_test.go).
// The model fails where a line of one direction is not like any other: lamellae that stand along the beam absorb as if they
// were coarser, a layer on the surface hides what is below whatever the intercepts are. In clusters, where regions of one phase
// lie close together, what follows a region is no longer independent of it. See modelU for what this costs.
type Mosaic struct {
	Mu        []float64 // linear absorption of each phase, 1/cm
	Intercept []float64 // mean intercept of the regions of each phase, µm; 0 where only Common is known; nil for none
	Common    float64   // mean intercept of all regions that a line crosses, µm, for phases without their own
	Spread    float64   // CV² of the intercepts
}

// leastStep bounds the way out of a region, over 1/μ, from below: shorter ways change nothing and cost digits.
const leastStep = 1e-7

// Paths returns ∫ E_p(x)² dx, cm, of each phase for volume fractions v (sum 1).
func (m Mosaic) Paths(v []float64) []float64 {
	out := make([]float64, len(v))
	for p, t := range m.transmissions(v) {
		out[p] = t.until(math.Inf(1))
	}
	return out
}

// Reaches returns the path, cm, within which a share (0 to 1) of ∫ E_p(x)² dx lies: times sin θ the depth that this share of
// the intensity of a phase comes from.
func (m Mosaic) Reaches(v []float64, share float64) []float64 {
	out := make([]float64, len(v))
	for p, t := range m.transmissions(v) {
		whole := t.until(math.Inf(1))
		lo, hi := 0.0, -math.Log1p(-share)/(2*floats.Min(m.Mu)) // where the least absorbing phase alone would have it
		for range 60 {
			if mid := (lo + hi) / 2; t.until(mid) < share*whole {
				lo = mid
			} else {
				hi = mid
			}
		}
		out[p] = hi
	}
	return out
}

// A transmission is E(x) = Σ_k B_k exp(λ_k x) of a path that starts in one phase.
type transmission struct{ b, lambda []float64 }

// until returns ∫ E² dx from 0 to x.
func (t transmission) until(x float64) (sum float64) {
	for k, bk := range t.b {
		for l, bl := range t.b {
			rate := t.lambda[k] + t.lambda[l]
			sum += bk * bl * math.Expm1(rate*x) / rate
		}
	}
	return sum
}

// transmissions returns the transmission from each phase.
func (m Mosaic) transmissions(v []float64) []transmission {
	out := make([]transmission, len(v))
	flux, state := m.contacts(v)
	for p := range v {
		switch state {
		case fine:
			out[p] = transmission{[]float64{1}, []float64{-floats.Dot(v, m.Mu)}}
		case coarse:
			out[p] = transmission{[]float64{1}, []float64{-m.Mu[p]}}
		}
	}
	if state == between {
		m.modes(v, flux, out)
	}
	return out
}

// modes fills in the transmissions for contacts n_pq, 1/cm; NaN when there are none.
func (m Mosaic) modes(v []float64, flux [][]float64, out []transmission) {
	n := len(v)
	root := make([]float64, n)
	s := mat.NewSymDense(n, nil)
	c := (1 + m.Spread) / 2
	for p := range v {
		root[p] = math.Sqrt(v[p])
	}
	for p := range v {
		leave := floats.Sum(flux[p]) / (c * v[p])
		s.SetSym(p, p, -leave-m.Mu[p])
		for q := range p {
			s.SetSym(p, q, flux[p][q]/(c*root[p]*root[q]))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(s, true) {
		for p := range out {
			out[p] = transmission{[]float64{math.NaN()}, []float64{-1}}
		}
		return
	}
	lambda := e.Values(nil)
	var u mat.Dense
	e.VectorsTo(&u)
	for k := range lambda { // the transmission lies between those of the least and the most absorbing phase
		lambda[k] = min(lambda[k], -floats.Min(m.Mu))
	}
	for p := range out {
		out[p] = transmission{make([]float64, n), lambda}
		for k := range lambda {
			out[p].b[k] = u.At(p, k) * mat.Dot(u.ColView(k), mat.NewVecDense(n, root)) / root[p]
		}
	}
}

// regime says whether a mosaic is one of the two limits.
type regime int

const (
	between regime = iota
	fine           // all regions are points
	coarse         // no region ends
)

// contacts returns n_pq, 1/cm.
func (m Mosaic) contacts(v []float64) ([][]float64, regime) {
	number, state := m.numbers(v)
	if state != between {
		return nil, state
	}
	n := len(v)
	flux := zeros(n)
	for p := range n {
		for q := range n {
			if p != q {
				flux[p][q] = number[p] * number[q]
			}
		}
	}
	if m.Intercept == nil { // cells at random: n_pq = v_p v_q/λ with Σ N_p = 1/ℓ
		cells := floats.Sum(number) / (1 - floats.Dot(v, v))
		for p := range n {
			for q := range n {
				if p != q {
					flux[p][q] = cells * (v[p] * v[q])
				}
			}
		}
		return flux, between
	}
	// Each row is brought to its sum, half the way a round (in the logarithm) so that the table stays symmetric. Numbers that no
	// table has, such as two for two phases, end in the middle between them.
	for range balanceRounds {
		scale := make([]float64, n)
		var off float64
		for p := range n {
			scale[p] = math.Sqrt(number[p] / floats.Sum(flux[p]))
			off = max(off, math.Abs(scale[p]-1))
		}
		for p := range n {
			for q := range n {
				flux[p][q] *= scale[p] * scale[q]
			}
		}
		if off < 1e-9 {
			break
		}
	}
	return flux, between
}

const balanceRounds = 300

// numbers returns how many regions of each phase a line crosses, 1/cm.
func (m Mosaic) numbers(v []float64) ([]float64, regime) {
	const perCM = 1e4 // µm in a cm
	n := len(v)
	out := make([]float64, n)
	mixed := 1 - floats.Dot(v, v)
	small, large := 0, 0
	for p := range v {
		l := m.intercept(p) / perCM
		// Cells of one size that have their phases at random: a phase ends with the chance 1 − v_p at the end of a cell, so that
		// N_p ∝ v_p (1 − v_p), with Σ N_p = 1/ℓ.
		share := v[p] * (1 - v[p]) / mixed
		if m.hasOwn(p) {
			share = v[p]
		}
		l = max(l, leastStep/floats.Max(m.Mu)*share/v[p])
		if m.intercept(p) == 0 {
			small++
		}
		if math.IsInf(l, 1) {
			large++
		}
		out[p] = share / l
	}
	switch {
	case n < 2 || large > 0:
		// A region without end has no neighbour: the contacts of the others are of no account beside it.
		return nil, coarse
	case small == n:
		return nil, fine
	}
	return out, between
}

func (m Mosaic) hasOwn(p int) bool { return m.Intercept != nil && m.Intercept[p] > 0 }

func (m Mosaic) intercept(p int) float64 {
	if m.hasOwn(p) {
		return m.Intercept[p]
	}
	return m.Common
}

// Volumes returns the volume fractions (sum 1) of phases that diffract as v_p ∫ E_p² dx ∝ intensity: what the volume fractions
// of a fine powder would be, S_p/(RIR_p ρ_p). Phases without intensity have none. It fails with an error when an absorption is
// not known or nothing diffracts.
func (m Mosaic) Volumes(intensity []float64) ([]float64, error) {
	v := make([]float64, len(intensity))
	var there []int
	for p, y := range intensity {
		if !(y > 0) {
			continue
		}
		if !(m.Mu[p] > 0) || math.IsInf(m.Mu[p], 0) || math.IsInf(y, 0) {
			return nil, fmt.Errorf("phase %d: linear absorption %v 1/cm, intensity %v", p+1, m.Mu[p], y)
		}
		there = append(there, p)
	}
	if len(there) == 0 {
		return nil, ErrNoAmount
	}
	part := m.of(there)
	y := pick(intensity, there)
	floats.Scale(1/floats.Sum(y), y)
	x := append([]float64(nil), y...)
	for range volumeRounds {
		path := part.Paths(x)
		next := make([]float64, len(x))
		for i := range x {
			next[i] = y[i] / path[i]
		}
		floats.Scale(1/floats.Sum(next), next)
		off := floats.Distance(next, x, math.Inf(1))
		x = next
		if off < 1e-13 {
			break
		}
	}
	for i, p := range there {
		v[p] = x[i]
	}
	if floats.HasNaN(v) {
		return nil, ErrNoAmount
	}
	return v, nil
}

const volumeRounds = 200

// of returns the mosaic of some phases.
func (m Mosaic) of(phases []int) Mosaic {
	out := Mosaic{Mu: pick(m.Mu, phases), Common: m.Common, Spread: m.Spread}
	if m.Intercept != nil {
		out.Intercept = pick(m.Intercept, phases)
	}
	return out
}
