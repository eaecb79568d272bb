package structure

import (
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// symmetrise makes the cell obey its point group exactly and returns by how much that moved its metric, relative. Beyond 1 % it is
// ErrMisfit. A cell that fits within rounding is returned unchanged.
func symmetrise(cell refdata.Cell, rotations [][9]int) (refdata.Cell, float64, error) {
	averaged, change := average(cell, rotations)
	switch {
	case !(change < 0.01):
		return cell, change, ErrMisfit
	case change < 1e-9:
		return cell, change, nil
	}
	return averaged, change, nil
}

// average returns the cell with its metric averaged over rotations, and the largest relative change.
func average(cell refdata.Cell, rotations [][9]int) (refdata.Cell, float64) {
	g := cell.Direct()
	m := [3][3]float64{{g[0], g[5], g[4]}, {g[5], g[1], g[3]}, {g[4], g[3], g[2]}}
	var mean [3][3]float64
	for i := range rotations {
		turned := transposeProduct(m, &rotations[i])
		for j := range 3 {
			for k := range 3 {
				mean[j][k] += turned[j][k] / float64(len(rotations))
			}
		}
	}
	var change float64
	for j := range 3 {
		for k := range 3 {
			change = max(change, math.Abs(mean[j][k]-m[j][k])/math.Sqrt(m[j][j]*m[k][k]))
		}
	}
	a, b, c := math.Sqrt(mean[0][0]), math.Sqrt(mean[1][1]), math.Sqrt(mean[2][2])
	return refdata.Cell{
		A: a, B: b, C: c, Alpha: acosDegrees(mean[1][2] / (b * c)), Beta: acosDegrees(mean[0][2] / (a * c)), Gamma: acosDegrees(mean[0][1] / (a * b)),
	}, change
}

// transposeProduct returns rᵀ m r, the metric of the rotated axes.
func transposeProduct(m [3][3]float64, r *[9]int) (t [3][3]float64) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				for l := range 3 {
					t[i][j] += float64(r[3*k+i]) * m[k][l] * float64(r[3*l+j])
				}
			}
		}
	}
	return t
}

// acosDegrees is exact at 90° and 120°, where cells usually are.
func acosDegrees(x float64) float64 {
	degrees := xrd.Degrees(math.Acos(x))
	for _, exact := range []float64{90, 120} {
		if math.Abs(degrees-exact) < 1e-9 {
			return exact
		}
	}
	return degrees
}
