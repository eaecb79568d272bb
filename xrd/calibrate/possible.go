package calibrate

import (
	"fmt"
	"math"

	"phasetally/xrd"
)

// Widths of lines, FWHM in degrees, between which those of a laboratory diffractometer lie: crystals in the best beams give some
// thousandths of a degree; lines of more than 2° are no lines. Common practice is 0.04° to 0.3°.
const narrowest, widest = 0.002, 2.0

// usualRange is where widths are looked at when the file does not say what was fitted, degrees 2θ.
var usualRange = [2]float64{20, 120}

// possible refuses widths that no diffractometer has, at an angle at which they were fitted. It names the key that is to blame.
func possible(ins xrd.Instrument, fitted [2]float64) (key string, err error) {
	if !(fitted[0] > 0 && fitted[1] > fitted[0]) {
		fitted = usualRange
	}
	const steps = 100
	for i := range steps + 1 {
		angle := math.Min(fitted[0]+(fitted[1]-fitted[0])*float64(i)/steps, 179)
		sin, cos := math.Sincos(xrd.Radians(angle) / 2)
		tan := sin / cos
		gauss := (ins.GaussTan2*tan+ins.GaussTan)*tan + ins.GaussConst
		switch fwhm := ins.FWHM(angle); {
		case !(gauss >= 0):
			return "gauss_const", fmt.Errorf("the square of the Gaussian width would be %.3g degrees² at %g° 2θ", gauss, math.Round(angle))
		case !(ins.LorentzSize+ins.LorentzStrain*sin >= 0):
			return "lorentz_size", fmt.Errorf("the Lorentzian width would be %.3g° at %g° 2θ", (ins.LorentzSize+ins.LorentzStrain*sin)/cos, math.Round(angle))
		case !(fwhm >= narrowest && fwhm <= widest):
			return "gauss_const", fmt.Errorf("lines would be %.3g° wide at %g° 2θ, and those of a diffractometer are %g° to %g°", fwhm, math.Round(angle), narrowest, widest)
		}
	}
	return "", nil
}
