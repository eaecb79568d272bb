package pattern

import (
	"errors"
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// ErrSetup says that a model cannot be made from its input; test with errors.Is.
var ErrSetup = errors.New("pattern: unusable input")

// A Setup is everything a fit starts from. Slices are shared with the model and never changed.
type Setup struct {
	TwoTheta  []float64 // degrees, ascending; masked points left out
	Intensity []float64
	Sigma     []float64 // standard uncertainty of each point without any misfit
	Gain      float64   // variance over fitted intensity: 1 for counts; 0 when Sigma alone tells the noise
	Floor     float64   // variance that is there without intensity

	Radiation  xrd.Radiation
	Instrument xrd.Instrument
	Specimen   xrd.Specimen
	Phases     []refdata.Phase
	Poles      [][][3]int // texture poles of each phase; nil for none
	Blank      []float64  // scan of the mount and holder, at the same angles; nil for none
	BlankVar   []float64  // its variance, parallel to Blank
	Doubt      []float64  // extra variance where intensity is known to be unexplained; nil for none

	Start Start
}

// Start holds starting values; the zero value starts from the instrument.
type Start struct {
	Displacement float64         // mm
	Values       map[Key]float64 // of any parameters
	Knots        int             // number of background intervals; 0 lets an information criterion choose
	Kappa        float64         // relative misfit; 0 means not known yet
}

// A Key identifies a parameter across models: the phase is named by its id.
type Key struct {
	Kind Kind
	ID   string
	Pole [3]int
}

func (s Setup) check() error {
	n := len(s.TwoTheta)
	if n != len(s.Intensity) || n != len(s.Sigma) {
		return fmt.Errorf("%w: %d angles, %d intensities, %d uncertainties", ErrSetup, n, len(s.Intensity), len(s.Sigma))
	}
	if n < xrd.MinPoints {
		return fmt.Errorf("%w: %d points left, at least %d are needed", ErrSetup, n, xrd.MinPoints)
	}
	if s.Blank != nil && len(s.Blank) != n {
		return fmt.Errorf("%w: the blank has %d points, the scan %d", ErrSetup, len(s.Blank), n)
	}
	if s.Doubt != nil && len(s.Doubt) != n {
		return fmt.Errorf("%w: doubt at %d of %d points", ErrSetup, len(s.Doubt), n)
	}
	if s.Poles != nil && len(s.Poles) != len(s.Phases) {
		return fmt.Errorf("%w: texture poles for %d of %d phases", ErrSetup, len(s.Poles), len(s.Phases))
	}
	for i, v := range s.Sigma {
		if !(v > 0) || math.IsInf(v, 0) {
			return fmt.Errorf("%w: uncertainty %g of point %d", ErrSetup, v, i)
		}
	}
	if !(s.Radiation.KAlpha1 > 0) || !(s.Instrument.Radius > 0) {
		return fmt.Errorf("%w: wavelength %g Å, radius %g mm", ErrSetup, s.Radiation.KAlpha1, s.Instrument.Radius)
	}
	return nil
}
