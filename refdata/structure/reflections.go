package structure

import (
	"fmt"
	"math"
)

// A reflection is one of a family of symmetry-equivalent ones.
type reflection struct {
	h, k, l      int
	multiplicity int     // both Friedel mates counted
	q2           float64 // 1/d², Å⁻²
	f2           float64 // mean |F|², electrons²
}

// reflections returns one reflection of every family with d ≥ dMin that symmetry does not extinguish, without |F|².
func (s *Structure) reflections(dMin float64) ([]reflection, error) {
	c := s.Cell
	hMax, kMax, lMax := int(c.A/dMin), int(c.B/dMin), int(c.C/dMin)
	if n := float64(hMax+1) * float64(2*kMax+1) * float64(2*lMax+1); n > MaxReflections {
		return nil, fmt.Errorf("%w: %.2g reflections down to d = %.3g Å, at most %d are computed", ErrTooBig, n, dMin, MaxReflections)
	}
	m := s.reciprocal
	limit := (1 + 1e-12) / (dMin * dMin)
	var found []reflection
	for h := 0; h <= hMax; h++ {
		kLow := -kMax
		if h == 0 {
			kLow = 0
		}
		for k := kLow; k <= kMax; k++ {
			lLow := -lMax
			if h == 0 && k == 0 {
				lLow = 1
			}
			base := m[0]*float64(h*h) + m[1]*float64(k*k) + 2*m[5]*float64(h*k)
			slope := 2 * (m[3]*float64(k) + m[4]*float64(h))
			for l := lLow; l <= lMax; l++ {
				q2 := base + float64(l)*(slope+m[2]*float64(l))
				if q2 > limit || !s.group.centred(h, k, l) {
					continue
				}
				if n := s.multiplicity(h, k, l); n > 0 && !s.group.extinct(h, k, l) {
					found = append(found, reflection{h: h, k: k, l: l, multiplicity: n, q2: q2})
				}
			}
		}
	}
	return found, nil
}

// centred reports whether the lattice allows a reflection.
func (g *group) centred(h, k, l int) bool {
	for _, t := range g.centring[1:] {
		if fractional(h, k, l, t) {
			return false
		}
	}
	return true
}

// fractional reports whether h·t is not a whole number.
func fractional(h, k, l int, t [3]float64) bool {
	p := float64(h)*t[0] + float64(k)*t[1] + float64(l)*t[2]
	return math.Abs(p-math.Round(p)) > 0.01
}

// extinct reports whether a screw axis or glide plane extinguishes a reflection.
func (g *group) extinct(h, k, l int) bool {
	for _, op := range g.cosets[1:] {
		if a, b, c := transform(h, k, l, &op.R); a == h && b == k && c == l && fractional(h, k, l, op.T) {
			return true
		}
	}
	return false
}

// transform returns the row vector (h k l) times r.
func transform(h, k, l int, r *[9]int) (int, int, int) {
	return h*r[0] + k*r[3] + l*r[6], h*r[1] + k*r[4] + l*r[7], h*r[2] + k*r[5] + l*r[8]
}

// multiplicity returns the size of the family of a reflection if it is the last of it in the order of h, k, l; 0 for the others.
func (s *Structure) multiplicity(h, k, l int) int {
	same := 0
	for i := range s.rotations {
		a, b, c := transform(h, k, l, &s.rotations[i])
		switch order := compare(a, b, c, h, k, l); {
		case order > 0:
			return 0
		case order == 0:
			same++
		}
		switch order := compare(-a, -b, -c, h, k, l); {
		case order > 0:
			return 0
		case order == 0:
			same++
		}
	}
	return 2 * len(s.rotations) / same
}

func compare(a, b, c, h, k, l int) int {
	switch {
	case a != h:
		return a - h
	case b != k:
		return b - k
	}
	return c - l
}

// customary returns the member of a family that is usually named: as few negative indices as possible, l before k before h not
// negative, then h, k, l as large as possible.
func (s *Structure) customary(h, k, l int) (int, int, int) {
	best := [3]int{h, k, l}
	most := rank(h, k, l)
	for i := range s.rotations {
		a, b, c := transform(h, k, l, &s.rotations[i])
		if r := rank(a, b, c); r > most {
			best, most = [3]int{a, b, c}, r
		}
		if r := rank(-a, -b, -c); r > most {
			best, most = [3]int{-a, -b, -c}, r
		}
	}
	return best[0], best[1], best[2]
}

// rank orders indices, each within ±8191, as customary wants them.
func rank(h, k, l int) int {
	sh, sk, sl := notNegative(h), notNegative(k), notNegative(l)
	return (((sh+sk+sl)*2+sl)*2+sk)<<42 + (h+8192)<<28 + (k+8192)<<14 + l + 8192
}

func notNegative(n int) int {
	if n < 0 {
		return 0
	}
	return 1
}
