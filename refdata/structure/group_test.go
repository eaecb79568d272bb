package structure

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
)

func TestInverseAndProduct(t *testing.T) {
	for key, m := range rotations {
		assert.Equal(t, identity.R, product(m, inverse(m)), key)
		assert.Equal(t, identity.R, product(inverse(m), m), key)
		assert.Equal(t, 1, determinant(m), key)
		assert.Equal(t, -1, determinant(negated(m)), key)
		power := identity.R
		for range int(key[len(key)-1] - '0') {
			power = product(power, m)
		}
		assert.Equal(t, identity.R, power, "%s to its order", key)
	}
}

func TestAfterIsCompositionOfApply(t *testing.T) {
	a, err := ParseOperator("-y,x-y,z+1/3")
	require.NoError(t, err)
	b, err := ParseOperator("x-y,-y,-z+1/6")
	require.NoError(t, err)
	x := [3]float64{0.1, 0.23, 0.37}
	want, got := a.Apply(b.Apply(x)), a.after(b).Apply(x)
	for i := range want {
		assert.InDelta(t, 0, wrap(want[i]-got[i]+1e-12), 1e-10)
	}
}

// The order of a list of operators does not matter, nor do repetitions; a few of them generate the rest.
func TestGenerateFromAnyList(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, hall := range []string{"-F 4vw 2vw 3", "-R 3 2\"c", "-I 4bd 2c 3", "P 61 2 (0 0 5)", "-C 2yc"} {
		full, err := hallGroup(hall)
		require.NoError(t, err)
		ops := full.operators()
		ops = append(ops, ops...)
		rng.Shuffle(len(ops), func(i, j int) { ops[i], ops[j] = ops[j], ops[i] })
		again, err := generate(ops)
		require.NoError(t, err)
		assert.True(t, full.same(again), hall)
		assert.True(t, again.same(full), hall)
		sub, err := generate(ops[:1])
		require.NoError(t, err)
		assert.False(t, full.same(sub), hall)
	}
	shifted, err := hallGroup("P 2 (0 0 0)")
	require.NoError(t, err)
	other, err := hallGroup("P 2 (1 0 0)")
	require.NoError(t, err)
	assert.False(t, shifted.same(other), "the same rotations about another axis")
}

func TestGenerateRefusesEndless(t *testing.T) {
	for _, texts := range [][]string{{"x+y,y,z"}, {"x+0.0101,y,z"}, {"x,y,z", "-y,x,z", "x,-z,y", "x-y,x,z"}} {
		var ops []Operator
		for _, text := range texts {
			op, err := ParseOperator(text)
			require.NoError(t, err)
			ops = append(ops, op)
		}
		if g, err := generate(ops); err == nil {
			assert.LessOrEqual(t, g.order(), maxOrder)
		} else {
			assert.ErrorIs(t, err, ErrGroup)
		}
	}
}

// Families are named as they usually are (common practice; the names of the oracle's lists agree up to the choice among equals).
func TestCustomaryNames(t *testing.T) {
	for _, c := range []struct {
		hall string
		cell refdata.Cell
		from [3]int
		want [3]int
	}{
		{"-F 4 2 3", refdata.Cell{A: 4, B: 4, C: 4, Alpha: 90, Beta: 90, Gamma: 90}, [3]int{-1, 1, -3}, [3]int{3, 1, 1}},
		{"-I 2ab 2ac 3", refdata.Cell{A: 4, B: 4, C: 4, Alpha: 90, Beta: 90, Gamma: 90}, [3]int{1, 2, 3}, [3]int{3, 1, 2}},
		{"-P 4 2", refdata.Cell{A: 4, B: 4, C: 6, Alpha: 90, Beta: 90, Gamma: 90}, [3]int{1, -2, 3}, [3]int{2, 1, 3}},
		{"-R 3 2\"c", refdata.Cell{A: 4, B: 4, C: 12, Alpha: 90, Beta: 90, Gamma: 120}, [3]int{0, -1, 4}, [3]int{1, 0, 4}},
		{"-R 3 2\"c", refdata.Cell{A: 4, B: 4, C: 12, Alpha: 90, Beta: 90, Gamma: 120}, [3]int{1, -2, 6}, [3]int{1, 1, 6}},
		{"-P 6 2", refdata.Cell{A: 4, B: 4, C: 6, Alpha: 90, Beta: 90, Gamma: 120}, [3]int{-3, 1, 1}, [3]int{2, 1, 1}},
		{"-P 2ybc", refdata.Cell{A: 4, B: 5, C: 6, Alpha: 90, Beta: 100, Gamma: 90}, [3]int{1, 1, -1}, [3]int{-1, 1, 1}},
		{"-P 2 2", refdata.Cell{A: 4, B: 5, C: 6, Alpha: 90, Beta: 90, Gamma: 90}, [3]int{-1, -2, 3}, [3]int{1, 2, 3}},
		{"-P 1", refdata.Cell{A: 4, B: 5, C: 6, Alpha: 80, Beta: 95, Gamma: 100}, [3]int{-1, -2, 3}, [3]int{1, 2, -3}},
	} {
		s, err := FromRecord(refdata.Record{SpaceGroup: "Hall: " + c.hall, Cell: c.cell, Atoms: []refdata.Atom{{Element: "Cu", Occupancy: 1}}})
		require.NoError(t, err, c.hall)
		h, k, l := s.customary(c.from[0], c.from[1], c.from[2])
		assert.Equal(t, c.want, [3]int{h, k, l}, c.hall)
	}
}

// Extinctions of International Tables A (from memory): some reflections that each symbol forbids, and some that it allows.
func TestExtinctions(t *testing.T) {
	for _, c := range []struct {
		hall              string
		forbidden, allows [][3]int
	}{
		{"-F 4 2 3", [][3]int{{1, 0, 0}, {2, 1, 0}, {1, 1, 2}}, [][3]int{{1, 1, 1}, {2, 0, 0}, {4, 2, 0}}},
		{"-I 4 2 3", [][3]int{{1, 0, 0}, {1, 1, 1}, {2, 1, 0}}, [][3]int{{1, 1, 0}, {2, 0, 0}, {2, 1, 1}}},
		{"-F 4vw 2vw 3", [][3]int{{2, 0, 0}, {4, 2, 0}, {6, 0, 0}}, [][3]int{{2, 2, 0}, {4, 0, 0}, {3, 1, 1}, {2, 2, 2}}},
		{"-P 2ybc", [][3]int{{0, 1, 0}, {0, 3, 0}, {1, 0, 1}, {0, 0, 1}}, [][3]int{{0, 2, 0}, {1, 0, 2}, {1, 1, 1}, {0, 1, 1}}},
		{"P 6c -2c", [][3]int{{0, 0, 1}, {0, 0, 3}, {1, 1, 1}}, [][3]int{{0, 0, 2}, {1, 0, 1}, {1, 1, 2}}},
		{"-R 3 2\"c", [][3]int{{1, 0, 1}, {0, 0, 3}, {1, 0, 2}, {0, 0, 9}, {1, 0, 0}}, [][3]int{{0, 1, 2}, {1, 0, 4}, {1, 1, 0}, {1, 1, 3}, {0, 0, 6}}},
		{"P 61", [][3]int{{0, 0, 1}, {0, 0, 4}}, [][3]int{{0, 0, 6}, {1, 0, 1}}},
		{"P 2ac 2ab", [][3]int{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, [][3]int{{2, 0, 0}, {1, 1, 0}}},
	} {
		g, err := hallGroup(c.hall)
		require.NoError(t, err)
		for _, v := range c.forbidden {
			assert.False(t, g.centred(v[0], v[1], v[2]) && !g.extinct(v[0], v[1], v[2]), "%s forbids %v", c.hall, v)
		}
		for _, v := range c.allows {
			assert.True(t, g.centred(v[0], v[1], v[2]) && !g.extinct(v[0], v[1], v[2]), "%s allows %v", c.hall, v)
		}
	}
}

// Site symmetry of International Tables A (from memory): Wyckoff multiplicities, also when a coordinate is off by 0.02 Å.
func TestWyckoffMultiplicities(t *testing.T) {
	cubic := refdata.Cell{A: 8.4, B: 8.4, C: 8.4, Alpha: 90, Beta: 90, Gamma: 90}
	for _, c := range []struct {
		hall string
		at   [3]float64
		want int
	}{
		{"-F 4vw 2vw 3", [3]float64{0.125, 0.125, 0.125}, 8}, {"-F 4vw 2vw 3", [3]float64{0.5, 0.5, 0.5}, 16}, {"-F 4vw 2vw 3", [3]float64{0.2549, 0.2549, 0.2549}, 32},
		{"-F 4vw 2vw 3", [3]float64{0.3, 0.125, 0.125}, 48}, {"-F 4vw 2vw 3", [3]float64{0.1, 0.1, 0.3}, 96}, {"-F 4vw 2vw 3", [3]float64{0.1, 0.2, 0.33}, 192},
		{"-F 4 2 3", [3]float64{0, 0, 0}, 4}, {"-F 4 2 3", [3]float64{0.25, 0.25, 0.25}, 8}, {"-I 2b 2c 3", [3]float64{0.25, 0.25, 0.25}, 8},
		{"-I 2b 2c 3", [3]float64{0.47, 0, 0.25}, 24}, {"-P 4 2 3", [3]float64{0.2, 0.5, 0.5}, 6},
	} {
		g, err := hallGroup(c.hall)
		require.NoError(t, err)
		for _, off := range []float64{0, 0.002} { // of 8.4 Å
			at, images, n := place([3]float64{c.at[0] + off, c.at[1], c.at[2] - off/2}, g, cubic.Direct())
			if off > 0 && c.want >= 96 {
				continue // nothing to return to
			}
			assert.Equal(t, c.want, n, "%s %v off %g", c.hall, c.at, off)
			assert.Len(t, images, c.want/len(g.centring))
			if off > 0 && c.want <= 16 && c.hall != "-P 4 2 3" { // the last is free along x
				assert.InDeltaSlice(t, c.at[:], at[:], 1e-6, "%s: put back", c.hall)
			}
		}
	}
}
