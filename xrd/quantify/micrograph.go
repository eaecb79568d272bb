package quantify

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// An Area is the share of a section that a phase takes, which by Delesse's principle is its volume fraction.
type Area struct {
	Phase      int     // number among the phases of the fit
	Percent, U float64 // of the area, with its standard uncertainty
}

// A Micrograph compares areas with diffraction; slices are parallel to the phases of the fit.
type Micrograph struct {
	VolumeU   []float64 // standard uncertainty of the volumes by diffraction, vol%
	Z         []float64 // volume less area over the standard uncertainty of both; NaN without an area
	ChiSquare float64   // of all areas together
	Freedom   int       // degrees of freedom of ChiSquare
	P         float64   // of a larger χ² by chance
	// Volume and Weight are the estimates by both together; unknown when the two disagree.
	Volume, Weight []Value
}

// disagreeP is the chance below which areas and diffraction are said to disagree.
const disagreeP = 0.05

// Agree reports whether both are estimates of the same.
func (m Micrograph) Agree() bool { return m.P >= disagreeP }

// Compare sets areas beside the answer and joins both by generalised least squares: with volumes V of covariance C and areas
// A = HV of covariance R, V' = V + K(A − HV) and C' = C − KHC, K = CHᵀ(HCHᵀ + R)⁻¹. Volumes sum to 100 before and after. Areas of
// everything the specimen holds are brought to 100, since pores and resin are no part of what diffracts. It returns false when
// the volumes are not known or nothing can be compared.
func Compare(in Input, a Answer, areas []Area) (Micrograph, bool) {
	members := in.phasesOf(Specimen)
	areas = ofSolid(areas, members)
	n := len(members)
	place := map[int]int{}
	volumes := mat.NewVecDense(max(n, 1), nil)
	c := mat.NewDense(max(n, 1), max(n, 1), nil)
	for i, k := range members {
		place[k] = i
		volumes.SetVec(i, a.Fractions[k].Volume.Percent)
		for j, l := range members {
			c.Set(i, j, a.VolumeCovariance[k][l])
		}
	}
	if n < 2 || len(areas) == 0 || math.IsNaN(mat.Sum(volumes)) {
		return Micrograph{}, false
	}
	out := Micrograph{VolumeU: make([]float64, len(in.Roles)), Z: make([]float64, len(in.Roles)), Freedom: min(len(areas), n-1)}
	for k := range out.Z {
		out.Z[k] = math.NaN()
		out.VolumeU[k] = math.Sqrt(math.Max(0, a.VolumeCovariance[k][k]))
	}
	h, off := mat.NewDense(len(areas), n, nil), mat.NewVecDense(len(areas), nil)
	r := mat.NewDense(len(areas), len(areas), nil)
	for i, x := range areas {
		k := place[x.Phase]
		h.Set(i, k, 1)
		off.SetVec(i, x.Percent-volumes.AtVec(k))
		r.Set(i, i, x.U*x.U)
		out.Z[x.Phase] = -off.AtVec(i) / math.Hypot(x.U, out.VolumeU[x.Phase])
	}
	var ch, s, k, joined, cNew mat.Dense
	ch.Mul(c, h.T())
	s.Mul(h, &ch)
	s.Add(&s, r)
	var weighted mat.VecDense
	if weighted.SolveVec(&s, off) != nil || k.Solve(&s, ch.T()) != nil {
		return Micrograph{}, false
	}
	out.ChiSquare = mat.Dot(off, &weighted)
	out.P = distuv.ChiSquared{K: float64(out.Freedom)}.Survival(out.ChiSquare)
	joined.Mul(&ch, &weighted)
	cNew.Mul(&ch, &k)
	cNew.Sub(c, &cNew)
	v := make([]float64, n)
	for i := range v {
		v[i] = math.Max(0, volumes.AtVec(i)+joined.At(i, 0))
	}
	out.combined(in, members, v, &cNew)
	return out, true
}

// ofSolid returns the areas of members; those of all members are brought to 100.
func ofSolid(areas []Area, members []int) (out []Area) {
	var sum float64
	for _, x := range areas {
		for _, k := range members {
			if x.Phase == k && x.U > 0 {
				out = append(out, x)
				sum += x.Percent
			}
		}
	}
	if len(out) < len(members) || !(sum > 0) {
		return out
	}
	for i := range out {
		out[i].Percent *= 100 / sum
		out[i].U *= 100 / sum
	}
	return out
}

// combined fills in the joint estimates from volumes of members and their covariance.
func (m *Micrograph) combined(in Input, members []int, v []float64, c *mat.Dense) {
	m.Volume, m.Weight = make([]Value, len(in.Roles)), make([]Value, len(in.Roles))
	for k := range m.Volume {
		m.Volume[k], m.Weight[k] = unknown, unknown
	}
	if !m.Agree() {
		return
	}
	rho := make([]float64, len(v))
	parts := make([]float64, len(v))
	for i, k := range members {
		rho[i] = in.Fit.Setup.Phases[k].Density
		parts[i] = v[i] * rho[i]
	}
	w, err := shares(parts)
	if err != nil {
		return
	}
	var mass float64
	for _, x := range parts {
		mass += x
	}
	j, cov := zeros(len(v)), zeros(len(v)) // ∂w_p/∂v_q = 100 ρ_p δ_pq/M − w_p ρ_q/M
	for p := range v {
		for q := range v {
			j[p][q] = -w[p] * rho[q] / mass
			cov[p][q] = c.At(p, q)
		}
		j[p][p] += 100 * rho[p] / mass
	}
	weights := sandwich(j, cov)
	for i, k := range members {
		m.Volume[k] = interval(v[i], math.Sqrt(math.Max(0, cov[i][i])), math.Inf(1))
		m.Weight[k] = interval(w[i], math.Sqrt(math.Max(0, weights[i][i])), math.Inf(1))
	}
}
