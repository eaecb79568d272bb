package pattern

import (
	"math"

	"phasetally/refdata"
)

// strained returns the cell after the changes of the given parameters, which all belong to one phase. Edges that the
// crystal system ties move together; the angles of a rhombohedral cell too.
func strained(c refdata.Cell, sys refdata.CrystalSystem, ps []Parameter) refdata.Cell {
	for _, p := range ps {
		f := 1 + p.Value
		switch p.Kind {
		case CellA:
			c.A *= f
			if tiesB(sys) {
				c.B *= f
			}
			if tiesC(sys) {
				c.C *= f
			}
		case CellB:
			c.B *= f
		case CellC:
			c.C *= f
		case CellAlpha:
			c.Alpha += p.Value
			if sys == refdata.Rhombohedral {
				c.Beta, c.Gamma = c.Alpha, c.Alpha
			}
		case CellBeta:
			c.Beta += p.Value
		case CellGamma:
			c.Gamma += p.Value
		}
	}
	return c
}

func tiesB(s refdata.CrystalSystem) bool {
	return s == refdata.Cubic || s == refdata.Tetragonal || s == refdata.Hexagonal || s == refdata.Rhombohedral
}

func tiesC(s refdata.CrystalSystem) bool { return s == refdata.Cubic || s == refdata.Rhombohedral }

// spacingSlopes fills out with the derivatives of q = 1/d² of h k l to the free cell parameters, given the cell and its
// reciprocal metric. With v = G* h: ∂q/∂ε_i = −2 h_i v_i for a relative change of edge i, and
// ∂q/∂α = 2 b c sin α v₂ v₃ (per radian) for an angle, since dq = −vᵀ dG v. Derived here.
func spacingSlopes(c refdata.Cell, g refdata.Metric, sys refdata.CrystalSystem, hkl [3]float64, kinds []Kind, out []float64) {
	h, k, l := hkl[0], hkl[1], hkl[2]
	v := [3]float64{g[0]*h + g[5]*k + g[4]*l, g[5]*h + g[1]*k + g[3]*l, g[4]*h + g[3]*k + g[2]*l}
	edge := func(i int) float64 { return -2 * hkl[i] * v[i] }
	angle := func(deg, e1, e2, v1, v2 float64) float64 {
		return 2 * e1 * e2 * math.Sin(deg*math.Pi/180) * v1 * v2 * math.Pi / 180
	}
	for i, kind := range kinds {
		switch kind {
		case CellA:
			out[i] = edge(0)
			if tiesB(sys) {
				out[i] += edge(1)
			}
			if tiesC(sys) {
				out[i] += edge(2)
			}
		case CellB:
			out[i] = edge(1)
		case CellC:
			out[i] = edge(2)
		case CellAlpha:
			out[i] = angle(c.Alpha, c.B, c.C, v[1], v[2])
			if sys == refdata.Rhombohedral {
				out[i] += angle(c.Beta, c.A, c.C, v[0], v[2]) + angle(c.Gamma, c.A, c.B, v[0], v[1])
			}
		case CellBeta:
			out[i] = angle(c.Beta, c.A, c.C, v[0], v[2])
		case CellGamma:
			out[i] = angle(c.Gamma, c.A, c.B, v[0], v[1])
		}
	}
}
