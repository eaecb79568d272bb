package pattern

import (
	"math"

	"phasetally/refdata"
)

// MarchDollase returns the density of poles at an angle whose squared cosine is cos2 from the texture axis, relative to
// a random powder: (r² cos²α + sin²α/r)^−3/2; its mean over the sphere is 1. r < 1: plates, the pole along the normal.
// Source: Dollase, J. Appl. Cryst. 19 (1986) 267–272 (from memory).
func MarchDollase(cos2, r float64) float64 {
	value, _ := marchLogSlope(cos2, r)
	return value
}

// marchLogSlope returns MarchDollase with its derivative to ln r.
func marchLogSlope(cos2, r float64) (value, slope float64) {
	x := r*r*cos2 + (1-cos2)/r
	value = 1 / (x * math.Sqrt(x))
	return value, -1.5 * value / x * (2*r*r*cos2 - (1-cos2)/r)
}

// poleCosines returns, for each family of a line, the squared cosines of the angles between its equivalent plane
// normals and a pole, all in the cell given by its reciprocal metric.
func poleCosines(l refdata.Line, pole [3]int, rotations [][9]int, g refdata.Metric) [][]float64 {
	p := [3]float64{float64(pole[0]), float64(pole[1]), float64(pole[2])}
	pp := g.Dot(p, p)
	out := make([][]float64, len(l.Families))
	for i, f := range l.Families {
		seen := make(map[[3]int]bool, 24)
		for _, r := range rotations {
			h := applied(r, [3]int{f.H, f.K, f.L})
			if seen[h] || seen[[3]int{-h[0], -h[1], -h[2]}] {
				continue
			}
			seen[h] = true
			v := [3]float64{float64(h[0]), float64(h[1]), float64(h[2])}
			d := g.Dot(v, p)
			out[i] = append(out[i], math.Min(1, d*d/(pp*g.Dot(v, v))))
		}
	}
	return out
}

// applied returns the row vector h times the matrix r.
func applied(r [9]int, h [3]int) [3]int {
	return [3]int{
		h[0]*r[0] + h[1]*r[3] + h[2]*r[6],
		h[0]*r[1] + h[1]*r[4] + h[2]*r[7],
		h[0]*r[2] + h[1]*r[5] + h[2]*r[8],
	}
}

// textureFactor returns the factor of one line, the mean over families weighted by multiplicity × |F|² (by multiplicity
// alone where |F|² is not known), with its derivative to ln r.
func textureFactor(l refdata.Line, cosines [][]float64, r float64) (value, slope float64) {
	var weight float64
	for i, f := range l.Families {
		w := float64(f.Multiplicity)
		if f.F2 > 0 {
			w *= f.F2
		}
		if !(w > 0) {
			w = 1
		}
		var v, s float64
		for _, c := range cosines[i] {
			dv, ds := marchLogSlope(c, r)
			v += dv
			s += ds
		}
		n := float64(len(cosines[i]))
		value += w * v / n
		slope += w * s / n
		weight += w
	}
	return value / weight, slope / weight
}

// laueGroup returns the rotations that make equivalent planes of a phase with a cell: its own, else the holohedry of
// its system.
func laueGroup(p refdata.Phase) [][9]int {
	if len(p.Rotations) > 0 {
		return p.Rotations
	}
	return holohedry(p.System, *p.Cell)
}

// uniqueAxis returns the rotation by 180° about the axis of a monoclinic cell that is perpendicular to both others.
func uniqueAxis(c refdata.Cell) [9]int {
	switch {
	case c.Alpha != 90:
		return [9]int{1, 0, 0, 0, -1, 0, 0, 0, -1}
	case c.Gamma != 90:
		return [9]int{-1, 0, 0, 0, -1, 0, 0, 0, 1}
	}
	return [9]int{-1, 0, 0, 0, 1, 0, 0, 0, -1}
}

// holohedry generates the full point group of a crystal system (inversion left out: it changes no angle). The cell
// tells the unique axis of a monoclinic one.
func holohedry(s refdata.CrystalSystem, c refdata.Cell) [][9]int {
	var (
		twoZ    = [9]int{-1, 0, 0, 0, -1, 0, 0, 0, 1}
		twoX    = [9]int{1, 0, 0, 0, -1, 0, 0, 0, -1}
		fourZ   = [9]int{0, 1, 0, -1, 0, 0, 0, 0, 1}
		threeD  = [9]int{0, 1, 0, 0, 0, 1, 1, 0, 0}
		sixZ    = [9]int{1, -1, 0, 1, 0, 0, 0, 0, 1} // of h k l: (h + k, −h, l)
		twoHexX = [9]int{0, 1, 0, 1, 0, 0, 0, 0, -1}
	)
	switch s {
	case refdata.Cubic:
		return generate(fourZ, threeD, twoX)
	case refdata.Tetragonal:
		return generate(fourZ, twoX)
	case refdata.Hexagonal:
		return generate(sixZ, twoHexX)
	case refdata.Rhombohedral:
		return generate(threeD, [9]int{0, -1, 0, -1, 0, 0, 0, 0, -1})
	case refdata.Orthorhombic:
		return generate(twoZ, twoX)
	case refdata.Monoclinic:
		return generate(uniqueAxis(c))
	}
	return generate()
}

// generate returns the group that the generators span.
func generate(gens ...[9]int) [][9]int {
	group := [][9]int{{1, 0, 0, 0, 1, 0, 0, 0, 1}}
	has := map[[9]int]bool{group[0]: true}
	for i := 0; i < len(group); i++ {
		for _, g := range gens {
			if m := multiplied(group[i], g); !has[m] {
				has[m] = true
				group = append(group, m)
			}
		}
	}
	return group
}

func multiplied(a, b [9]int) (m [9]int) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				m[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return m
}

// PoleCosines returns, for each family of a line of a phase with a cell, the squared cosines of the angles between its
// equivalent plane normals and a pole; nil for a phase without cell.
func PoleCosines(p refdata.Phase, l refdata.Line, pole [3]int) [][]float64 {
	if p.Cell == nil || pole == [3]int{} {
		return nil
	}
	return poleCosines(l, pole, laueGroup(p), p.Cell.Reciprocal())
}
