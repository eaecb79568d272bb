package peaks

import (
	"cmp"
	"math"

	"phasetally/xrd"
)

// Kind says where a peak comes from.
type Kind string

// The kinds of peak: of the specimen, or an image of a stronger peak in another wavelength of the tube.
const (
	KAlpha Kind = "kα"
	KBeta  Kind = "kβ-of" // Kβ that the filter lets through
	WLine  Kind = "wl-of" // W Lα1 of a tungsten-contaminated anode
)

// A Peak is one fitted Kα doublet. Standard uncertainties end in U and come from the fit's covariance.
type Peak struct {
	TwoTheta         float64 `json:"two_theta"`             // of Kα1, degrees
	TwoThetaU        float64 `json:"two_theta_u"`           // standard uncertainty
	D                float64 `json:"d"`                     // spacing in Å by Kα1, or by the wavelength that Kind names
	Height           float64 `json:"height"`                // of the fitted curve over the background at TwoTheta
	HeightU          float64 `json:"height_u"`              // standard uncertainty
	Area             float64 `json:"area"`                  // Kα1 and Kα2 together, intensity × degrees
	AreaU            float64 `json:"area_u"`                // standard uncertainty
	FWHM             float64 `json:"fwhm"`                  // of Kα1 alone, degrees
	FWHMU            float64 `json:"fwhm_u"`                // standard uncertainty
	IntegralBreadth  float64 `json:"integral_breadth"`      // area over height of Kα1 alone, degrees
	IntegralBreadthU float64 `json:"integral_breadth_u"`    // standard uncertainty
	AreaFWHM         float64 `json:"area_fwhm_correlation"` // correlation of area and width, −1 to 1
	Overlap          float64 `json:"overlap_correlation"`   // of the area with that of the peak it is most mixed with; 0 for a peak by itself
	Eta              float64 `json:"eta"`                   // Lorentzian share of the pseudo-Voigt
	Significance     float64 `json:"significance"`          // standard deviations of the noise without the peak
	Kind             Kind    `json:"kind"`                  // of the radiation that makes it
	Of               int     `json:"of"`                    // index of the peak that this one is an image of; -1 for KAlpha
}

// Settings steers Find; its zero value is the default.
type Settings struct {
	// FalseAlarms is the number of peaks that noise alone may add to a whole scan, on average; 0 means 0.05.
	FalseAlarms float64
	// Instrument gives the widths; nil means that they are estimated from the scan itself.
	Instrument *xrd.Instrument
	// KAlphaAlone says that a monochromator takes Kβ and the lines of tungsten away: no peak is an image of another.
	KAlphaAlone bool
	// MaxPeaks ends the search; 0 means 400.
	MaxPeaks int
}

func (s Settings) orDefaults() Settings {
	s.FalseAlarms = math.Min(cmp.Or(s.FalseAlarms, 0.05), 10)
	if !(s.FalseAlarms > 1e-12) {
		s.FalseAlarms = 0.05
	}
	s.MaxPeaks = cmp.Or(max(s.MaxPeaks, 0), 400)
	return s
}

// Found is what a scan shows.
type Found struct {
	Background []float64     // at every point of the scan
	Sigma      []float64     // standard uncertainty of every point, from the model rather than from its own count
	Fitted     []float64     // background and all peaks
	Noise      NoiseModel    // of the scan
	Width      WidthCurve    // of its peaks
	Threshold  float64       // least significance of a peak
	Resolved   bool          // strong peaks show Kα2 apart from Kα1; not told for known widths
	Stripped   bool          // Kα2 is missing although the radiation has it; the peaks are fitted as single ones
	Peaks      []Peak        // ascending angle
	LeftOut    []int         // points of the scan that say nothing of the specimen, ascending; cautions say why
	Cautions   []xrd.Caution // doubts about the scan
}

// A WidthCurve is the full width at half maximum of Kα1 against angle, FWHM² = U tan²θ + V tan θ + W (Caglioti, Paoletti
// & Ricci 1958, from memory), with one Lorentzian share for the scan.
type WidthCurve struct {
	U, V, W float64 // degrees²
	Eta     float64 // Lorentzian share, 0 to 1
	Axial   float64 // axial divergence: a line reaches down by Axial/tan 2θ degrees
	AxialU  float64 // its standard uncertainty; 0 when it was given or not seen
	Least   float64 // degrees; the curve is never below
	Most    float64 // degrees; nor above
	Peaks   int     // peaks that it rests on; 0: it was given or assumed
}

// At returns the FWHM, degrees, at an angle in degrees 2θ.
func (w WidthCurve) At(twoTheta float64) float64 {
	t := math.Tan(xrd.Radians(math.Min(twoTheta, 170)) / 2)
	return math.Min(w.Most, math.Max(w.Least, math.Sqrt(math.Max(0, (w.U*t+w.V)*t+w.W))))
}

// Smoothed reports whether neighbouring points share more than chance lets them.
func (f Found) Smoothed() bool { return f.Noise.Correlation >= smoothed }
