package peaks

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"

	"phasetally/xrd"
)

// A smeared peak is the average of peaks along its tail, here by Gauss–Legendre quadrature of 200 points.
func TestSmearedShapeIsAnAverage(t *testing.T) {
	for _, widths := range []float64{0.02, 0.2, 0.6, 1.5} {
		s := shape{at: 20, share: 1, fwhm: 0.1, eta: 0.4, tail: 0.1 * widths}
		height := xrd.PseudoVoigt(0, s.fwhm, s.eta)
		for x := 19.6; x < 20.2; x += 0.01 {
			want := quad.Fixed(func(u float64) float64 { return xrd.PseudoVoigt(x-s.at+s.tail*u*u, s.fwhm, s.eta) }, 0, 1, 200, quad.Legendre{}, 0)
			assert.InDelta(t, 0, (s.value(x)-want)/height, 7e-4, "%g widths at %g", widths, x)
		}
	}
}
