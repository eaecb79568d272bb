package result

import "phasetally/xrd"

// A CalibrationLine is a line of a standard, certified against observed. Angles and widths are degrees 2θ.
type CalibrationLine struct {
	H, K, L             int     // Miller indices
	D                   float64 // certified, Å
	Certified           float64 // angle without any shift
	Observed, ObservedU float64 // where a peak was fitted by itself
	Delta               float64 // Observed − Certified; its standard uncertainty is ObservedU
	Fitted, FittedU     float64 // the shift of zero and displacement at this angle
	FWHM, FWHMU         float64 // of the peak fitted by itself
	CurveFWHM           float64 // of the width curve
}

// A CalibrationPoint is what a calibration says at one angle, degrees 2θ: width, Lorentzian share and shift, with standard
// uncertainties.
type CalibrationPoint struct {
	TwoTheta, FWHM, FWHMU, Eta, Shift, ShiftU float64 // degrees; Eta is the Lorentzian share, 0 to 1
}

// A Calibration is what the scan of a standard tells of a diffractometer, as far as a figure shows it.
type Calibration struct {
	Standard  string             // its name
	Radiation xrd.Radiation      // of the scan
	Range     [2]float64         // degrees 2θ that were fitted
	Simulated bool               // the scan was calculated, not measured
	Lines     []CalibrationLine  // of the standard, ascending angle
	Curve     []CalibrationPoint // over the range, ascending
}
