package refdata_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func TestCellSpacings(t *testing.T) {
	for _, c := range []struct {
		name, source string
		cell         refdata.Cell
		hkl          [3]int
		want, delta  float64
	}{
		{"silicon 111", "SRM 640 cell 5.43102 Å; exact: a/√3", refdata.Cell{A: 5.43102, B: 5.43102, C: 5.43102, Alpha: 90, Beta: 90, Gamma: 90}, [3]int{1, 1, 1}, 5.43102 / math.Sqrt(3), 1e-12},
		{"corundum 113", "SRM 676 cell; d 2.0854 (from memory)", refdata.Cell{A: 4.7591, B: 4.7591, C: 12.9918, Alpha: 90, Beta: 90, Gamma: 120}, [3]int{1, 1, 3}, 2.0854, 1e-4},
		{"gypsum 020", "exact: b/2 of a monoclinic cell", refdata.Cell{A: 6.284, B: 15.2, C: 6.523, Alpha: 90, Beta: 127.41, Gamma: 90}, [3]int{0, 2, 0}, 7.6, 1e-12},
		{"oblique 100", "derived: a sin β for a monoclinic cell", refdata.Cell{A: 10, B: 6, C: 7, Alpha: 90, Beta: 110, Gamma: 90}, [3]int{1, 0, 0}, 10 * math.Sin(110*math.Pi/180), 1e-12},
	} {
		require.NotEmpty(t, c.source, c.name)
		require.NoError(t, c.cell.Check(), c.name)
		assert.InDelta(t, c.want, c.cell.Reciprocal().D(c.hkl[0], c.hkl[1], c.hkl[2]), c.delta, "%s (%s)", c.name, c.source)
	}
}

func TestReciprocalOfReciprocal(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 1000 {
		c := refdata.Cell{A: 2 + 20*rng.Float64(), B: 2 + 20*rng.Float64(), C: 2 + 20*rng.Float64(),
			Alpha: 80 + 30*rng.Float64(), Beta: 80 + 30*rng.Float64(), Gamma: 80 + 30*rng.Float64()}
		direct, back := c.Direct(), c.Reciprocal()
		// identity: the product of a metric and its inverse is the unit matrix; first row times first column, and off-diagonal
		assert.InDelta(t, 1, direct[0]*back[0]+direct[5]*back[5]+direct[4]*back[4], 1e-9)
		assert.InDelta(t, 0, direct[0]*back[5]+direct[5]*back[1]+direct[4]*back[3], 1e-9)
		assert.InEpsilon(t, direct.Norm2(1, 2, 3), direct.Dot([3]float64{1, 2, 3}, [3]float64{1, 2, 3}), 1e-12)
	}
}

func TestCellCheck(t *testing.T) {
	good := refdata.Cell{A: 3, B: 4, C: 5, Alpha: 90, Beta: 100, Gamma: 90}
	require.NoError(t, good.Check())
	for _, change := range []func(*refdata.Cell){
		func(c *refdata.Cell) { c.A = 0 }, func(c *refdata.Cell) { c.B = math.NaN() }, func(c *refdata.Cell) { c.C = 201 },
		func(c *refdata.Cell) { c.Alpha = 180 }, func(c *refdata.Cell) { c.Beta = math.Inf(1) },
		func(c *refdata.Cell) { c.Alpha, c.Beta, c.Gamma = 120, 120, 120 },
		func(c *refdata.Cell) { c.Alpha, c.Beta, c.Gamma = 60, 60, 170 },
	} {
		bad := good
		change(&bad)
		assert.ErrorIs(t, bad.Check(), refdata.ErrImpossibleCell, "%+v", bad)
	}
}

func TestCrystalSystem(t *testing.T) {
	for want, c := range map[refdata.CrystalSystem]refdata.Cell{
		refdata.Cubic:        {A: 4, B: 4, C: 4, Alpha: 90, Beta: 90, Gamma: 90},
		refdata.Tetragonal:   {A: 4, B: 4, C: 5, Alpha: 90, Beta: 90, Gamma: 90},
		refdata.Hexagonal:    {A: 4, B: 4, C: 5, Alpha: 90, Beta: 90, Gamma: 120},
		refdata.Rhombohedral: {A: 4, B: 4, C: 4, Alpha: 56, Beta: 56, Gamma: 56},
		refdata.Orthorhombic: {A: 4, B: 5, C: 6, Alpha: 90, Beta: 90, Gamma: 90},
		refdata.Monoclinic:   {A: 4, B: 5, C: 6, Alpha: 90, Beta: 100, Gamma: 90},
		refdata.Triclinic:    {A: 4, B: 5, C: 6, Alpha: 80, Beta: 100, Gamma: 90},
	} {
		assert.Equal(t, want, c.System(), want.String())
	}
}

func TestElementSet(t *testing.T) {
	s := refdata.ElementSet{}.With(29).With(50)
	u := s.With(92)
	assert.True(t, s.Within(u))
	assert.False(t, u.Within(s))
	assert.Equal(t, 3, u.Len())
	assert.True(t, u.Has(92) && !s.Has(92) && !s.Has(29+64))
	assert.Equal(t, u, s.Union(refdata.ElementSet{}.With(92)))
}

func TestPhaseStrongest(t *testing.T) {
	assert.Equal(t, -1, refdata.Phase{}.Strongest())
	p := refdata.Phase{MassAbsorption: 50, Density: 8, Lines: []refdata.Line{{Intensity: 3}, {Intensity: 100}, {Intensity: 40}}}
	assert.Equal(t, 1, p.Strongest())
	assert.Equal(t, 400.0, p.MuLinear())
}
