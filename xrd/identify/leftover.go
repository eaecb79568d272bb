package identify

import (
	"math"

	"phasetally/peaks"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// A Leftover tells how much intensity a fit leaves unexplained in a peak.
type Leftover struct {
	lines screen.Lines
	ins   xrd.Instrument
}

// NewLeftover prepares the answer for a fit; misfit of strong lines counts as uncertainty, so that only intensity of
// another kind stands out.
func NewLeftover(f *pattern.Fit) Leftover {
	residual := make([]float64, len(f.Fitted))
	variance := make([]float64, len(f.Fitted))
	for i, y := range f.Setup.Intensity {
		residual[i] = y - f.Fitted[i]
		variance[i] = f.NoiseAt(i)
		if g := f.Setup.Gain; g > 0 {
			variance[i] = math.Max(variance[i], g*y)
		}
		k := math.Max(f.Kappa, policy.Search.LeastKappa) * (f.Fitted[i] - f.Background[i])
		variance[i] += k * k
	}
	return Leftover{screen.NewLines(f.Setup.TwoTheta, residual, variance, f.Setup.Radiation), f.Instrument()}
}

// At returns the unexplained area, counts × degrees, of a line as wide as a peak, or as the instrument makes it where that is more, at the
// angle of the peak, and its standard uncertainty; it reports false outside the scan.
func (l Leftover) At(p peaks.Peak) (area, u float64, ok bool) {
	fwhm, eta := xrd.ThompsonCoxHastings(l.ins.GaussianFWHM(p.TwoTheta), l.ins.LorentzianFWHM(p.TwoTheta))
	if p.FWHM > fwhm {
		fwhm, eta = p.FWHM, p.Eta
	}
	return l.lines.At(p.TwoTheta, fwhm, eta)
}
