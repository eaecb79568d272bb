package leastsq

import (
	"math"

	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/mat"
)

// norm returns the length of x without overflow.
func norm(x []float64) float64 { return blas64.Nrm2(blas64.Vector{N: len(x), Inc: 1, Data: x}) }

// triangularise applies Householder reflections that make the first n rows, taken as columns of a matrix, upper
// triangular: afterwards rows[k][i], i ≤ k, is R_ik and the remaining rows hold Qᵀ times what they held. The rest of the
// first n rows and heads keep the reflections for reflect.
func triangularise(rows [][]float64, n int, heads []float64) {
	for k := range n {
		heads[k] = 0
		if k >= len(rows[k]) {
			continue
		}
		v := rows[k][k:]
		length := norm(v)
		if !(length > 0) {
			continue
		}
		if v[0] > 0 {
			length = -length
		}
		for i := range v {
			v[i] /= -length
		}
		v[0]++
		heads[k] = v[0]
		for _, row := range rows[k+1:] {
			mirror(v, row[k:])
		}
		v[0] = length
	}
}

// mirror applies 1 − v vᵀ/v_0, the reflection of a column of length 1 in v_0 − 1, ….
func mirror(v, x []float64) { axpy(x, -dot(v, x)/v[0], v) }

// reflect applies to x the reflections that triangularise has made.
func reflect(rows [][]float64, heads, x []float64) {
	for k, head := range heads {
		if head == 0 {
			continue
		}
		v := rows[k][k:]
		diagonal := v[0]
		v[0] = head
		mirror(v, x[k:])
		v[0] = diagonal
	}
}

// singular is the damping, relative to the length of a column, that keeps dependent columns from being solved for out of
// rounding; it is far below what the least determined of the NIST parameters need.
const singular = 16 * epsilon

// triangular is the quadratic of a triangular factor, ‖q − Rδ‖² + λ‖Dδ‖² with q = Qᵀr.
type triangular struct {
	r     [][]float64 // r[k][i] is R_ik, i ≤ k
	q     []float64
	scale []float64
	left  []float64 // q less what held parameters explain
	rows  [][]float64
	heads []float64
	order []int // parameters of rows
	bend  []float64
	none  []float64
}

func newTriangular(n int) *triangular {
	return &triangular{
		r: matrix(n, n), q: make([]float64, n), scale: make([]float64, n), left: make([]float64, n),
		rows: matrix(n+1, 2*n), heads: make([]float64, n), order: make([]int, 0, n), bend: make([]float64, n), none: make([]float64, n),
	}
}

// take copies R and q from rows that triangularise has worked on.
func (t *triangular) take(rows [][]float64) {
	for k, row := range t.r {
		clear(row)
		copy(row[:k+1], rows[k])
	}
	clear(t.q)
	copy(t.q, rows[len(t.r)])
}

func (t *triangular) minimise(damping float64, free []bool, delta, found []float64) {
	copy(t.left, t.q)
	t.order = t.order[:0]
	for k, d := range delta {
		if free[k] {
			t.order = append(t.order, k)
		} else if d != 0 {
			axpy(t.left, -d, t.r[k])
		}
	}
	n, f := len(t.q), len(t.order)
	rows := t.rows[:f+1]
	for a, k := range t.order {
		clear(rows[a])
		copy(rows[a], t.r[k])
		rows[a][n+a] = math.Hypot(math.Sqrt(damping)*t.scale[k], singular*norm(t.r[k]))
	}
	clear(rows[f])
	copy(rows[f], t.left)
	triangularise(rows, f, t.heads)
	clear(found)
	for a := f - 1; a >= 0; a-- {
		v := rows[f][a]
		for b := a + 1; b < f; b++ {
			v -= rows[b][a] * found[t.order[b]]
		}
		if rows[a][a] != 0 {
			found[t.order[a]] = v / rows[a][a]
		}
	}
}

// promise is ‖q‖² − ‖q − Rδ‖² = Rδ·(2q − Rδ).
func (t *triangular) promise(delta []float64) float64 {
	clear(t.left)
	for k, d := range delta {
		axpy(t.left, d, t.r[k])
	}
	sum := 0.0
	for i, v := range t.left {
		sum += v * (2*t.q[i] - v)
	}
	return sum
}

// curve fills a with the minimum of ‖b − Ra‖² + λ‖Da‖² over the free parameters, b = (bend + part·Rδ)/part².
func (t *triangular) curve(damping, part float64, bend []float64, free []bool, delta, a []float64) {
	clear(t.none)
	t.bend, t.q = t.q, t.bend // minimise works on q
	clear(t.q)
	copy(t.q, bend)
	for k, d := range delta {
		axpy(t.q, part*d, t.r[k])
	}
	for i := range t.q {
		t.q[i] /= part * part
	}
	t.minimise(damping, free, t.none, a)
	t.bend, t.q = t.q, t.bend
}

// invertTriangular returns (RᵀR)⁻¹ over the chosen columns, row-major with zeros elsewhere, and the columns that are
// undetermined. Where R is singular the inverse is that of the part that is determined.
func invertTriangular(r [][]float64, chosen []bool) (inverse []float64, undetermined []int) {
	n := len(r)
	inverse = make([]float64, n*n)
	var columns []int
	for k, in := range chosen {
		if in && norm(r[k]) > 0 {
			columns = append(columns, k)
		} else if in {
			undetermined = append(undetermined, k)
		}
	}
	if len(columns) == 0 {
		return inverse, undetermined
	}
	scaled := mat.NewDense(n, len(columns), nil)
	scale := make([]float64, len(columns))
	for a, k := range columns {
		scale[a] = norm(r[k])
		for i, v := range r[k] {
			scaled.Set(i, a, v/scale[a])
		}
	}
	var svd mat.SVD
	if !svd.Factorize(scaled, mat.SVDThin) {
		return inverse, append(undetermined, columns...)
	}
	var vectors mat.Dense
	svd.VTo(&vectors)
	share := make([]float64, len(columns))
	for e, value := range svd.Values(nil) {
		for a, k := range columns {
			v := vectors.At(a, e)
			if !(value > 4*epsilon*float64(n)) {
				share[a] += v * v
				continue
			}
			for b, j := range columns {
				inverse[k*n+j] += v / value / scale[a] * (vectors.At(b, e) / value / scale[b])
			}
		}
	}
	for a, k := range columns {
		if share[a] > 1e-6 {
			undetermined = append(undetermined, k)
		}
	}
	return inverse, undetermined
}
