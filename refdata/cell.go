package refdata

import (
	"errors"
	"fmt"
	"math"
)

// A Cell is a unit cell: edges in Å, angles in degrees.
type Cell struct {
	A     float64 `json:"a"`     // Å
	B     float64 `json:"b"`     // Å
	C     float64 `json:"c"`     // Å
	Alpha float64 `json:"alpha"` // degrees
	Beta  float64 `json:"beta"`  // degrees
	Gamma float64 `json:"gamma"` // degrees
}

// MaxEdge is the longest cell edge, Å, that is accepted: beyond it a powder pattern has too many lines to use.
const MaxEdge = 200

// MaxDensity is the greatest density, g/cm³, that is accepted: osmium has 22.59 (from memory), and nothing at ordinary
// pressure more; the rest allows for rounded cells.
const MaxDensity = 24

// MaxRIR is the greatest I/Ic that is accepted: the strongest scatterers of simple structure, gold or thallium chloride,
// have about 20 (from memory).
const MaxRIR = 100

// ErrImpossibleCell says that six numbers are no cell; test with errors.Is.
var ErrImpossibleCell = errors.New("impossible cell")

// Check returns ErrImpossibleCell unless edges are 0.5 to MaxEdge Å, angles between 5° and 175° and the volume positive.
func (c Cell) Check() error {
	for _, e := range []float64{c.A, c.B, c.C} {
		if !(e >= 0.5 && e <= MaxEdge) {
			return fmt.Errorf("%w: edge %g Å is outside 0.5 to %d", ErrImpossibleCell, e, MaxEdge)
		}
	}
	for _, a := range []float64{c.Alpha, c.Beta, c.Gamma} {
		if !(a > 5 && a < 175) {
			return fmt.Errorf("%w: angle %g° is outside 5 to 175", ErrImpossibleCell, a)
		}
	}
	if v := c.Volume(); !(v > 0.01) {
		return fmt.Errorf("%w: the three angles enclose no volume", ErrImpossibleCell)
	}
	return nil
}

// Direct returns the metric tensor of the cell, Å².
func (c Cell) Direct() Metric {
	ca, cb, cg := cosDegrees(c.Alpha), cosDegrees(c.Beta), cosDegrees(c.Gamma)
	return Metric{c.A * c.A, c.B * c.B, c.C * c.C, c.B * c.C * ca, c.A * c.C * cb, c.A * c.B * cg}
}

// Volume returns the volume, Å³ (NaN for angles that enclose none).
func (c Cell) Volume() float64 { return math.Sqrt(c.Direct().determinant()) }

// Reciprocal returns the reciprocal metric tensor, Å⁻²: 1/d² = Norm2(h, k, l) of it.
func (c Cell) Reciprocal() Metric { return c.Direct().inverse() }

// System returns the crystal system that the metric of the cell allows, within rounding of published cells (1e-4
// relative, 0.01°). Symmetry may be lower.
func (c Cell) System() CrystalSystem {
	eq := func(x, y float64) bool { return math.Abs(x-y) <= 1e-4*(x+y)/2 }
	right := func(x float64) bool { return math.Abs(x-90) < 0.01 }
	ra, rb, rg := right(c.Alpha), right(c.Beta), right(c.Gamma)
	switch {
	case ra && rb && rg && eq(c.A, c.B) && eq(c.B, c.C):
		return Cubic
	case ra && rb && rg && eq(c.A, c.B):
		return Tetragonal
	case ra && rb && math.Abs(c.Gamma-120) < 0.01 && eq(c.A, c.B):
		return Hexagonal
	case eq(c.A, c.B) && eq(c.B, c.C) && eq(c.Alpha, c.Beta) && eq(c.Beta, c.Gamma):
		return Rhombohedral
	case ra && rb && rg:
		return Orthorhombic
	case ra && rg, rb && rg, ra && rb:
		return Monoclinic
	}
	return Triclinic
}

// CrystalSystem decides which cell parameters are free.
type CrystalSystem int

// The crystal systems. Hexagonal covers trigonal on hexagonal axes; Rhombohedral is a = b = c, α = β = γ. Monoclinic
// leaves free the one angle that is not 90°.
const (
	Triclinic CrystalSystem = iota
	Monoclinic
	Orthorhombic
	Tetragonal
	Rhombohedral
	Hexagonal
	Cubic
)

// String returns the system's name in lower case.
func (s CrystalSystem) String() string {
	return [...]string{"triclinic", "monoclinic", "orthorhombic", "tetragonal", "rhombohedral", "hexagonal", "cubic"}[s]
}

// A Metric is a symmetric tensor: 11, 22, 33, 23, 13, 12.
type Metric [6]float64

// Norm2 returns the squared length of a vector in the metric.
func (m Metric) Norm2(x, y, z float64) float64 {
	return m[0]*x*x + m[1]*y*y + m[2]*z*z + 2*(m[3]*y*z+m[4]*x*z+m[5]*x*y)
}

// Dot returns the scalar product of two vectors in the metric.
func (m Metric) Dot(u, v [3]float64) float64 {
	return m[0]*u[0]*v[0] + m[1]*u[1]*v[1] + m[2]*u[2]*v[2] +
		m[3]*(u[1]*v[2]+u[2]*v[1]) + m[4]*(u[0]*v[2]+u[2]*v[0]) + m[5]*(u[0]*v[1]+u[1]*v[0])
}

// D returns the spacing, Å, of the planes h k l when m is a reciprocal metric.
func (m Metric) D(h, k, l int) float64 {
	return 1 / math.Sqrt(m.Norm2(float64(h), float64(k), float64(l)))
}

func (m Metric) determinant() float64 {
	return m[0]*(m[1]*m[2]-m[3]*m[3]) - m[5]*(m[5]*m[2]-m[3]*m[4]) + m[4]*(m[5]*m[3]-m[1]*m[4])
}

func (m Metric) inverse() Metric {
	det := m.determinant()
	return Metric{
		(m[1]*m[2] - m[3]*m[3]) / det, (m[0]*m[2] - m[4]*m[4]) / det, (m[0]*m[1] - m[5]*m[5]) / det,
		(m[4]*m[5] - m[0]*m[3]) / det, (m[5]*m[3] - m[1]*m[4]) / det, (m[3]*m[4] - m[2]*m[5]) / det,
	}
}

// cosDegrees is exact at 90° and 120°, where cells usually are.
func cosDegrees(deg float64) float64 {
	switch deg {
	case 90:
		return 0
	case 120:
		return -0.5
	}
	return math.Cos(deg * math.Pi / 180)
}
