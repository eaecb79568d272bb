package xrd_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
)

func ExampleTwoTheta() {
	for _, d := range []float64{3.1355, 0.70} { // silicon 111; planes too close for Cu Kα1
		angle, ok := xrd.TwoTheta(d, 1.5405929)
		fmt.Printf("%.2f° %t\n", angle, ok)
	}
	// Output:
	// 28.44° true
	// 0.00° false
}

func ExampleDSpacing() {
	d, _ := xrd.DSpacing(28.4409, 1.5405929)
	fmt.Printf("%.4f Å\n", d)
	// Output: 3.1357 Å
}

func ExampleImageTwoTheta() {
	kBeta, _ := xrd.ImageTwoTheta(43.30, 1.54059291, 1.39223398) // copper 111
	fmt.Printf("Kβ at %.2f°\n", kBeta)
	// Output: Kβ at 38.95°
}

func TestTwoTheta(t *testing.T) {
	const cuKa1 = 1.54059291 // Å; NIST SRD 128 (read), converted with Int. Tables C 4.2.2.14
	for _, c := range []struct {
		name, source   string
		d, want, delta float64
	}{
		{"LaB6 110", "d: SRM 660a list, read; angle derived by an independent script", 2.93938363, 30.3847, 1e-4},
		{"d = λ", "exact: sin θ = 1/2", cuKa1, 60, 1e-12},
		{"d = λ/2", "exact: sin θ = 1", cuKa1 / 2, 180, 1e-6},
		{"d = λ/√2", "exact: sin θ = √½", cuKa1 / math.Sqrt2, 90, 1e-12},
	} {
		require.NotEmpty(t, c.source, c.name)
		got, ok := xrd.TwoTheta(c.d, cuKa1)
		require.True(t, ok, c.name)
		assert.InDelta(t, c.want, got, c.delta, "%s (%s)", c.name, c.source)
	}
}

func TestBraggRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range [][2]float64{{0, 1}, {-1, 1}, {nan, 1}, {1, 0}, {1, nan}, {1, -2}, {0.4, 1}, {1, inf}} {
		angle, ok := xrd.TwoTheta(c[0], c[1])
		assert.False(t, ok, "d %g, λ %g", c[0], c[1])
		assert.Zero(t, angle)
	}
	for _, c := range [][2]float64{{0, 1}, {-3, 1}, {180.1, 1}, {nan, 1}, {30, 0}, {30, nan}} {
		d, ok := xrd.DSpacing(c[0], c[1])
		assert.False(t, ok, "2θ %g, λ %g", c[0], c[1])
		assert.Zero(t, d)
		_, ok = xrd.ImageTwoTheta(c[0], c[1], 1)
		assert.False(t, ok)
	}
	_, ok := xrd.ImageTwoTheta(150, 1, 1.1)
	assert.False(t, ok, "sin θ' would be above 1")
}

func TestBraggBothWays(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	last := math.Inf(1)
	for range 500 {
		wavelength, angle := 0.5+2*rnd.Float64(), 1+178*rnd.Float64()
		d, ok := xrd.DSpacing(angle, wavelength)
		require.True(t, ok)
		again, ok := xrd.TwoTheta(d, wavelength)
		require.True(t, ok)
		require.InDelta(t, angle, again, 1e-8)
		same, ok := xrd.ImageTwoTheta(angle, wavelength, wavelength)
		require.True(t, ok)
		require.InDelta(t, angle, same, 1e-8)
	}
	for angle := 1.0; angle < 180; angle++ { // larger angle, smaller spacing
		d, _ := xrd.DSpacing(angle, 1)
		require.Less(t, d, last)
		last = d
	}
}

// TestImagesOfCopper checks the images of Cu 111 at 43.3° that PRACTICE 1.3 lists (computed there).
func TestImagesOfCopper(t *testing.T) {
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	for _, c := range []struct {
		name, source     string
		wavelength, want float64
	}{
		{"Kβ", "trade table, computed there for 43.3°", cu.KBeta, 38.95},
		{"W Lα1", "trade table, computed there for 43.3°", xrd.WLAlpha, 41.41},
	} {
		require.NotEmpty(t, c.source)
		got, ok := xrd.ImageTwoTheta(43.3, cu.KAlpha1, c.wavelength)
		require.True(t, ok)
		assert.InDelta(t, c.want, got, 0.02, c.name) // 43.3 is given to 0.1°/2
	}
}
