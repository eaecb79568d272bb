package pattern_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

var coefficients = []float64{0.3, 0.5, 0.8, 1, 1.3, 2, 3}

// TestMarchDollaseNormalised integrates the pole density over the sphere: (1/2)∫ P d cos α = 1 for any r (identity).
func TestMarchDollaseNormalised(t *testing.T) {
	const n = 20000 // Simpson
	for _, r := range coefficients {
		var sum float64
		for i := 0; i <= n; i++ {
			w := 2.0 + 2*float64(i%2)
			if i == 0 || i == n {
				w = 1
			}
			c := float64(i) / n
			sum += w * pattern.MarchDollase(c*c, r)
		}
		assert.InDelta(t, 1, sum/(3*n), 1e-9, "r = %g", r)
	}
	// Derived by hand: along the pole r⁻³, across it r^1.5.
	assert.InDelta(t, 8, pattern.MarchDollase(1, 0.5), 1e-12)
	assert.InDelta(t, math.Pow(0.5, 1.5), pattern.MarchDollase(0, 0.5), 1e-12)
}

// TestTextureConservesIntensity averages the factor of a line over all directions of the pole: since P has mean 1 over
// the sphere, so has the symmetric average, for every system and any mixture of families.
func TestTextureConservesIntensity(t *testing.T) {
	const r = 0.6
	rnd := rand.New(rand.NewPCG(5, 6))
	phase := starter(t, "copper", copper(t))
	line := refdata.Line{Families: []refdata.Family{{H: 3, K: 3, L: 3, Multiplicity: 8, F2: 2}, {H: 5, K: 1, L: 1, Multiplicity: 24, F2: 1}}}
	const n = 20000
	var sum, sumSquares float64
	for range n {
		pole := [3]int{int(rnd.NormFloat64() * 1e4), int(rnd.NormFloat64() * 1e4), int(rnd.NormFloat64()*1e4) + 1}
		v, _ := pattern.TextureFactor(line, pattern.LineCosines(line, pole, pattern.LaueGroup(phase), phase.Cell.Reciprocal()), r)
		sum += v
		sumSquares += v * v
	}
	u := math.Sqrt((sumSquares/n - sum/n*sum/n) / n)
	assert.InDelta(t, 1, sum/n, 4*u)
	assert.Less(t, u, 0.002)
}

// TestCubicTexture has the angles of 111 to the pole 001, all equal with cos² = 1/3, and of 100: one along, two across.
func TestCubicTexture(t *testing.T) {
	phase := starter(t, "copper", copper(t))
	g := phase.Cell.Reciprocal()
	at := func(h, k, l int) float64 {
		line := refdata.Line{Families: []refdata.Family{{H: h, K: k, L: l, Multiplicity: 1}}}
		v, _ := pattern.TextureFactor(line, pattern.LineCosines(line, [3]int{0, 0, 1}, pattern.LaueGroup(phase), g), 0.5)
		return v
	}
	assert.InDelta(t, math.Pow(0.25/3+2*(2./3), -1.5), at(1, 1, 1), 1e-12, "derived by hand")
	assert.InDelta(t, (8+2*math.Pow(0.5, 1.5))/3, at(2, 0, 0), 1e-12, "derived by hand")
}

// TestHolohedries counts the proper rotations of each system (Int. Tables A, from memory) and checks that each keeps the
// metric of a cell of the system, so that it maps planes onto planes of equal spacing.
func TestHolohedries(t *testing.T) {
	order := map[refdata.CrystalSystem]int{refdata.Cubic: 24, refdata.Hexagonal: 12, refdata.Tetragonal: 8,
		refdata.Rhombohedral: 6, refdata.Orthorhombic: 4, refdata.Monoclinic: 2, refdata.Triclinic: 1}
	for _, p := range everySystem(rand.New(rand.NewPCG(7, 8)))[1:] {
		group := pattern.LaueGroup(p)
		require.Len(t, group, order[p.System], p.ID)
		g := p.Cell.Reciprocal()
		for _, r := range group {
			for _, h := range [][3]int{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 2, 3}, {2, -1, 1}} {
				var rotated [3]float64
				for j := range 3 {
					for i := range 3 {
						rotated[j] += float64(h[i] * r[3*i+j])
					}
				}
				want := g.Norm2(float64(h[0]), float64(h[1]), float64(h[2]))
				require.InDelta(t, want, g.Norm2(rotated[0], rotated[1], rotated[2]), 1e-12, "%s %v %v", p.ID, r, h)
			}
		}
	}
}

// TestLaueGroupOfStructure: rotations that a structure brings go before the holohedry (calcite: 6 of 12).
func TestLaueGroupOfStructure(t *testing.T) {
	require.Len(t, pattern.LaueGroup(starter(t, "calcite", copper(t))), 12/2*inversions(t))
}

// inversions is 2 when rotations of a structure list both hkl and −h−k−l.
func inversions(t *testing.T) int {
	n := len(starter(t, "copper", copper(t)).Rotations)
	require.Contains(t, []int{24, 48}, n)
	return n / 24
}
