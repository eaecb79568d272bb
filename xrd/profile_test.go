package xrd_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/integrate/quad"

	"phasetally/xrd"
)

func ExamplePseudoVoigt() {
	top := xrd.PseudoVoigt(0, 0.1, 0.5)
	fmt.Printf("%.3f at the top, %.3f half a width away\n", top, xrd.PseudoVoigt(0.05, 0.1, 0.5))
	// Output: 7.880 at the top, 3.940 half a width away
}

func ExampleThompsonCoxHastings() {
	fwhm, eta := xrd.ThompsonCoxHastings(0.08, 0.04)
	fmt.Printf("%.4f° wide, %.3f Lorentzian\n", fwhm, eta)
	// Output: 0.1031° wide, 0.465 Lorentzian
}

// randomWidths are widths that diffractometers have, with a fixed seed.
func randomWidths(n int) [][2]float64 {
	rnd := rand.New(rand.NewPCG(1, 2))
	w := make([][2]float64, n)
	for i := range w {
		w[i] = [2]float64{math.Exp(rnd.Float64()*6 - 5), math.Exp(rnd.Float64()*6 - 5)}
	}
	return w
}

func TestPseudoVoigtHasUnitAreaAndItsWidth(t *testing.T) {
	for _, eta := range []float64{0, 0.25, 0.7, 1} {
		for _, fwhm := range []float64{0.03, 0.1, 2} {
			// The substitution x = fwhm·tan u makes the Lorentzian flat, so that a Legendre rule is exact enough.
			area := quad.Fixed(func(u float64) float64 {
				c := math.Cos(u)
				return xrd.PseudoVoigt(fwhm*math.Tan(u), fwhm, eta) * fwhm / (c * c)
			}, -math.Pi/2, math.Pi/2, 400, nil, 0)
			assert.InDelta(t, 1, area, 1e-9, "η %g, width %g", eta, fwhm)
			top := xrd.PseudoVoigt(0, fwhm, eta)
			assert.InEpsilon(t, top/2, xrd.PseudoVoigt(fwhm/2, fwhm, eta), 1e-12)
			assert.InEpsilon(t, 1/top, xrd.IntegralBreadth(fwhm, eta), 1e-12)
		}
	}
}

func TestAddPseudoVoigtIsTheSumOfSingles(t *testing.T) {
	var angles, dst []float64
	for k := range 400 {
		angles, dst = append(angles, 40+0.01*float64(k)), append(dst, 3)
	}
	xrd.AddPseudoVoigt(dst, angles, 41.3, 0.1, 0.4, 2.5)
	for i, at := range angles {
		require.InDelta(t, 3+2.5*xrd.PseudoVoigt(at-41.3, 0.1, 0.4), dst[i], 1e-12)
	}
}

func TestAddPseudoVoigtSlopesAgainstFiniteDifferences(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		const centre, area, moves = 20.01, 7.0, 1.3
		at := []float64{rnd.Float64() - 0.5, 0.05 + rnd.Float64(), rnd.Float64()} // dx, fwhm, eta
		want := fd.Gradient(nil, func(p []float64) float64 { return xrd.PseudoVoigt(p[0], p[1], p[2]) }, at,
			&fd.Settings{Formula: fd.Central, Step: 1e-5})
		toCentre, toWidth, toEta := []float64{0, 1}, []float64{0, 2}, []float64{0, 3} // added to
		angles := []float64{centre - 30, centre + at[0]}
		xrd.AddPseudoVoigtSlopes(angles, centre, at[1], at[2], area, moves, toCentre, toWidth, toEta)
		tolerance := func(v float64) float64 { return area * 1e-5 * (1 + math.Abs(v)) }
		require.InDelta(t, 1-area*moves*want[0], toCentre[1], moves*tolerance(want[0]), "at %v", at)
		require.InDelta(t, 2+area*at[1]*want[1], toWidth[1], tolerance(want[1]), "at %v", at)
		require.InDelta(t, 3+area*want[2], toEta[1], tolerance(want[2]), "at %v", at)
	}
}

func TestThompsonCoxHastingsLimits(t *testing.T) {
	for _, c := range []struct {
		name, source             string
		g, l, fwhm, eta, epsilon float64
	}{
		{"Gaussian", "exact: Γ_L = 0", 0.1, 0, 0.1, 0, 1e-12},
		{"Lorentzian", "exact: Γ_G = 0, coefficients sum to 1", 0, 0.2, 0.2, 1, 1e-12},
		{"equal", "derived apart: 11.67117^0.2, and the polynomial at its inverse", 1, 1, 1.634643, 0.682539, 1e-6},
		{"nothing", "definition", 0, 0, 0, 0, 0},
	} {
		require.NotEmpty(t, c.source)
		fwhm, eta := xrd.ThompsonCoxHastings(c.g, c.l)
		assert.InDelta(t, c.fwhm, fwhm, c.epsilon, c.name)
		assert.InDelta(t, c.eta, eta, c.epsilon, c.name)
	}
}

// TestThompsonCoxHastingsIsNearlyAVoigt compares with the exact convolution, integrated numerically: the paper promises
// a width within 1 % (from memory).
func TestThompsonCoxHastingsIsNearlyAVoigt(t *testing.T) {
	for _, w := range [][2]float64{{1, 0.1}, {1, 0.5}, {1, 1}, {0.5, 1}, {0.1, 1}} {
		voigt := func(x float64) float64 {
			return quad.Fixed(func(u float64) float64 {
				return xrd.PseudoVoigt(u, w[0], 0) * xrd.PseudoVoigt(x-u, w[1], 1)
			}, -4*w[0], 4*w[0], 400, nil, 0)
		}
		lo, hi, half := 0.0, 3.0, voigt(0)/2
		for range 50 {
			if mid := (lo + hi) / 2; voigt(mid) > half {
				lo = mid
			} else {
				hi = mid
			}
		}
		fwhm, eta := xrd.ThompsonCoxHastings(w[0], w[1])
		assert.InEpsilon(t, 2*lo, fwhm, 0.01, "widths %v", w)
		assert.InEpsilon(t, voigt(0), xrd.PseudoVoigt(0, fwhm, eta), 0.01, "widths %v", w)
	}
}

func TestThompsonCoxHastingsSlopesAgainstFiniteDifferences(t *testing.T) {
	for _, w := range randomWidths(200) {
		_, _, ofFWHM, ofEta := xrd.ThompsonCoxHastingsSlopes(w[0], w[1])
		central := &fd.Settings{Formula: fd.Central, Step: 1e-6 * (w[0] + w[1])}
		width := fd.Gradient(nil, func(p []float64) float64 { f, _ := xrd.ThompsonCoxHastings(p[0], p[1]); return f }, w[:], central)
		mixing := fd.Gradient(nil, func(p []float64) float64 { _, e := xrd.ThompsonCoxHastings(p[0], p[1]); return e }, w[:], central)
		for i := range 2 {
			require.InDelta(t, width[i], ofFWHM[i], 1e-7, "width %v", w)
			require.InEpsilon(t, mixing[i], ofEta[i], 1e-5, "mixing %v", w)
		}
	}
}

func TestThompsonCoxHastingsScales(t *testing.T) {
	for _, w := range randomWidths(100) {
		fwhm, eta := xrd.ThompsonCoxHastings(w[0], w[1])
		big, same := xrd.ThompsonCoxHastings(1e70*w[0], 1e70*w[1])
		require.InEpsilon(t, 1e70*fwhm, big, 1e-12)
		require.InEpsilon(t, eta, same, 1e-12)
	}
}
