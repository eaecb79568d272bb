package quantify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/integrate/quad"

	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// TestMarchDollaseNormalised: the mean over the sphere is 1 for every r, in both sections: no intensity is made or lost
// (Dollase 1986: the condition by which the formula was chosen).
func TestMarchDollaseNormalised(t *testing.T) {
	for _, r := range []float64{0.3, 0.6, 0.9, 1, 1.3, 2.5} {
		across := quad.Fixed(func(c float64) float64 { return pattern.MarchDollase(c*c, r) }, 0, 1, 400, quad.Legendre{}, 1)
		along := quad.Fixed(func(c float64) float64 { return quantify.LongitudinalDensity(c*c, r) }, 0, 1, 400, quad.Legendre{}, 1)
		assert.InDelta(t, 1, across, 1e-9, "across, r = %g", r)
		assert.InDelta(t, 1, along, 1e-6, "along, r = %g", r)
	}
}

// TestLongitudinalDensity turns 400 000 crystals of a fibre at random and counts how many have planes, at an angle β to the
// texture pole, within 6° of a direction at right angles to the axis; a random powder has 1 − cos 6° of them there.
func TestLongitudinalDensity(t *testing.T) {
	const n, cone = 400000, 6
	rnd := rand.New(rand.NewPCG(3, 3))
	near := math.Cos(cone * math.Pi / 180)
	for _, c := range []struct{ r, beta float64 }{{0.6, 0}, {0.6, 35.26}, {0.6, 90}, {1.5, 0}, {1.5, 54.74}, {1, 40}} {
		sinB, cosB := math.Sincos(c.beta * math.Pi / 180)
		var hit float64
		for range n {
			// The pole: cos α of March's distribution by inversion of ∫P dcos = u/√r·…: drawn as the affine image of a random direction.
			x, y, z := rnd.NormFloat64(), rnd.NormFloat64(), rnd.NormFloat64()
			// A sphere stretched along the axis by 1/r and shrunk across by √r has the density r²cos² + sin²/r to the −3/2.
			x, y, z = x*math.Sqrt(c.r), y*math.Sqrt(c.r), z/c.r
			norm := math.Sqrt(x*x + y*y + z*z)
			p := [3]float64{x / norm, y / norm, z / norm}
			// The normal: at β from the pole, at a random turn about it.
			u := perpendicular(p)
			v := [3]float64{p[1]*u[2] - p[2]*u[1], p[2]*u[0] - p[0]*u[2], p[0]*u[1] - p[1]*u[0]}
			s, k := math.Sincos(2 * math.Pi * rnd.Float64())
			h := cosB*p[0] + sinB*(k*u[0]+s*v[0])
			if math.Abs(h) > near { // the direction x is across the axis z
				hit++
			}
		}
		random := n * (1 - near)
		got := hit / random
		// The cone averages over a few degrees, which moves the density by up to some per cent; counting adds 1/√hit.
		assert.InDelta(t, got, quantify.LongitudinalDensity(cosB*cosB, c.r), 0.03*got+4*math.Sqrt(hit)/random, "r = %g, β = %g°", c.r, c.beta)
	}
}

func perpendicular(p [3]float64) [3]float64 {
	a := [3]float64{0, 0, 1}
	if math.Abs(p[2]) > 0.9 {
		a = [3]float64{1, 0, 0}
	}
	u := [3]float64{p[1]*a[2] - p[2]*a[1], p[2]*a[0] - p[0]*a[2], p[0]*a[1] - p[1]*a[0]}
	n := math.Sqrt(u[0]*u[0] + u[1]*u[1] + u[2]*u[2])
	return [3]float64{u[0] / n, u[1] / n, u[2] / n}
}

// fibreLines are lines of copper as a section shows them.
func fibreLines(t *testing.T, pole [3]int, r float64, longitudinal bool) ([]pattern.LineFit, quantify.Fibre) {
	t.Helper()
	p := starter(t, "copper")
	var lines []pattern.LineFit
	for _, l := range p.Lines {
		if l.TwoTheta < 120 {
			lines = append(lines, pattern.LineFit{Line: l, TwoTheta: l.TwoTheta, Expected: 10 * l.Intensity, Observed: 10 * l.Intensity, ObservedU: 1, Clear: 1, Covered: true})
		}
	}
	f, ok := quantify.FibreOf(p, lines, pole, r, false)
	require.True(t, ok)
	for i := range lines {
		if longitudinal {
			lines[i].Observed *= f.Lines[i].Longitudinal
		} else {
			lines[i].Observed *= f.Lines[i].Transverse
		}
	}
	return lines, f
}

// TestFibreOfWire: a ⟨111⟩ fibre of a drawn face-centred wire. Across, 111 is up and 220 and 200 are down; along, 220 is up
// and 111 is down (PRACTICE.md 1.1, "Texture by section").
func TestFibreOfWire(t *testing.T) {
	_, f := fibreLines(t, [3]int{1, 1, 1}, 0.3, false)
	at := map[string]quantify.FibreLine{}
	for _, l := range f.Lines {
		at[fmt.Sprint(max(l.H, l.K, l.L), l.H*l.H+l.K*l.K+l.L*l.L)] = l
	}
	l111, l200, l220 := at["1 3"], at["2 4"], at["2 8"]
	assert.Greater(t, l111.Transverse, 1.2)
	assert.Less(t, l220.Transverse, 0.9)
	assert.Less(t, l200.Transverse, 0.9)
	t.Logf("across %.2f %.2f %.2f, along %.2f %.2f %.2f", l111.Transverse, l200.Transverse, l220.Transverse, l111.Longitudinal, l200.Longitudinal, l220.Longitudinal)
	assert.Less(t, l111.Longitudinal, 0.95)
	assert.Greater(t, l220.Longitudinal, 1.05)
}

// TestFibreFromLongitudinal: from the lines of a longitudinal section the fibre of the piece is found again.
func TestFibreFromLongitudinal(t *testing.T) {
	lines, want := fibreLines(t, [3]int{1, 1, 1}, 0.5, true)
	got, ok := quantify.FibreOf(starter(t, "copper"), lines, [3]int{1, 0, 0}, 1, true)
	require.True(t, ok)
	for i, l := range got.Lines {
		assert.InDelta(t, want.Lines[i].Longitudinal, l.Longitudinal, 0.05*want.Lines[i].Longitudinal)
	}
	assert.Equal(t, [3]int{1, 1, 1}, got.Pole)
	assert.InEpsilon(t, 0.5, got.R, 0.1)

	random, _ := fibreLines(t, [3]int{1, 1, 1}, 1, true)
	_, ok = quantify.FibreOf(starter(t, "copper"), random, [3]int{1, 1, 1}, 1, true)
	assert.False(t, ok, "nothing to explain")
	_, ok = quantify.FibreOf(invented(0, 1), nil, [3]int{1, 1, 1}, 0.5, false)
	assert.False(t, ok, "a phase without cell")
}
