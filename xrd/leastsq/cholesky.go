package leastsq

import "math"

// dependent is the part of a unit column that must be left after the earlier columns are taken out for it to count as
// independent. Normal equations square the condition of a problem and carry rounding of about n·1e-16.
const dependent = 1e-12

// A cholesky factors selected rows and columns of a symmetric matrix after scaling its diagonal to 1, so that the units
// of the parameters play no part. Columns that depend on earlier ones are left out.
type cholesky struct {
	scale  []float64 // square roots of the diagonal, by row of the matrix
	used   []int     // rows of the matrix in the factor
	factor []float64 // lower triangle, row-major with stride
	stride int
}

func newCholesky(n int) *cholesky {
	return &cholesky{scale: make([]float64, n), used: make([]int, 0, n), factor: make([]float64, n*n), stride: n}
}

// decompose factors the lower triangle of a over the rows that are chosen, and says whether all of them
// could be used.
func (f *cholesky) decompose(a []float64, stride int, chosen []bool) bool {
	f.used = f.used[:0]
	complete := true
	for i, in := range chosen {
		if !in {
			continue
		}
		f.scale[i] = math.Sqrt(a[i*stride+i])
		complete = f.append(a, stride, i) && complete
	}
	return complete
}

// append adds row i of a to the factor unless it depends on those already there.
func (f *cholesky) append(a []float64, stride, i int) bool {
	if !(f.scale[i] > 0) {
		return false
	}
	n := len(f.used)
	row := f.factor[n*f.stride : n*f.stride+n+1]
	left := 1.0
	for k, j := range f.used {
		other := f.factor[k*f.stride : k*f.stride+k+1]
		v := (at(a, stride, i, j)/(f.scale[i]*f.scale[j]) - dot(other[:k], row)) / other[k]
		row[k] = v
		left -= v * v
	}
	if !(left > dependent) {
		return false
	}
	row[n] = math.Sqrt(left)
	f.used = append(f.used, i)
	return true
}

func at(a []float64, stride, i, j int) float64 {
	if j > i {
		i, j = j, i
	}
	return a[i*stride+j]
}

// forward solves L z = x over the rows used; x is indexed by row of the matrix, z by position in the factor.
func (f *cholesky) forward(x, z []float64) {
	for k, i := range f.used {
		row := f.factor[k*f.stride : k*f.stride+k+1]
		z[k] = (x[i]/f.scale[i] - dot(row[:k], z)) / row[k]
	}
}

// backward solves Lᵀ x = z; z is overwritten and x filled in the rows used only.
func (f *cholesky) backward(z, x []float64) {
	for k := len(f.used) - 1; k >= 0; k-- {
		row := f.factor[k*f.stride : k*f.stride+k+1]
		z[k] /= row[k]
		for l, v := range row[:k] {
			z[l] -= v * z[k]
		}
		x[f.used[k]] = z[k] / f.scale[f.used[k]]
	}
}
