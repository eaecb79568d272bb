package xrd

import "math"

// SlitMode says how the divergence slit behaves.
type SlitMode int

// The slit modes: not stated (taken as fixed), fixed opening, automatic (constant illuminated length).
const (
	SlitUnknown SlitMode = iota
	SlitFixed
	SlitAutomatic
)

// A Slit is the divergence slit.
type Slit struct {
	Mode  SlitMode // fixed, automatic or not known
	Value float64  // fixed: opening in degrees; automatic: illuminated length in mm; 0 when not stated
}

// An Instrument is what a standard's scan tells about the diffractometer. Gaussian and Lorentzian widths follow
// Thompson, Cox & Hastings (1987): Γ_G² = GaussTan2·tan²θ + GaussTan·tan θ + GaussConst and
// Γ_L = LorentzSize/cos θ + LorentzStrain·tan θ, which that paper calls U, V, W, X and Y.
type Instrument struct {
	Name          string        // for people
	Calibrated    bool          // widths and zero come from a standard, not from defaults
	Tube          string        // radiation with which it was calibrated, as ParseRadiation reads it; empty when not known
	Zero          float64       // added to every angle, degrees 2θ
	ZeroU         float64       // its standard uncertainty; 0: exactly known
	GaussTan2     float64       // of tan²θ in the squared Gaussian width, degrees²
	GaussTan      float64       // of tan θ in it, degrees²
	GaussConst    float64       // its constant, degrees²
	LorentzSize   float64       // of 1/cos θ in the Lorentzian width, as size broadens, degrees
	LorentzStrain float64       // of tan θ in it, as strain broadens, degrees
	Axial         float64       // axial-divergence tail, degrees: a line reaches down by Axial/tan 2θ
	Radius        float64       // goniometer radius, mm
	Slit          Slit          // the divergence slit
	Monochromator Monochromator // in the diffracted beam
	Geometry      Geometry      // reflection or transmission
}

// DefaultInstrument returns the widths of an ordinary laboratory diffractometer of 200 mm radius (common practice:
// FWHM 0.08° to 0.15°), the starting point of a fit when no instrument file is given.
func DefaultInstrument() Instrument {
	return Instrument{Name: "default", GaussTan2: 0.004, GaussTan: -0.003, GaussConst: 0.006, LorentzSize: 0.015, LorentzStrain: 0.02, Radius: 200}
}

// FWHM returns the full width at half maximum of the lines at an angle, degrees.
func (i Instrument) FWHM(twoTheta float64) float64 {
	fwhm, _ := ThompsonCoxHastings(i.GaussianFWHM(twoTheta), i.LorentzianFWHM(twoTheta))
	return fwhm
}

// GaussianFWHM returns Γ_G in degrees at an angle in degrees 2θ, never below 0.001°.
func (i Instrument) GaussianFWHM(twoTheta float64) float64 {
	t := math.Tan(Radians(twoTheta) / 2)
	return math.Sqrt(math.Max(1e-6, (i.GaussTan2*t+i.GaussTan)*t+i.GaussConst))
}

// LorentzianFWHM returns Γ_L in degrees at an angle in degrees 2θ, never below 0.
func (i Instrument) LorentzianFWHM(twoTheta float64) float64 {
	sin, cos := math.Sincos(Radians(twoTheta) / 2)
	return math.Max(0, (i.LorentzSize+i.LorentzStrain*sin)/cos)
}

// DisplacementShift returns the shift in degrees 2θ of a line at twoTheta when the surface lies displacement mm below
// the focusing plane of a goniometer of the given radius: Δ2θ = −2 s cos θ/R rad.
func DisplacementShift(twoTheta, displacement, radius float64) float64 {
	return -2 * Degrees(displacement/radius) * math.Cos(Radians(twoTheta)/2)
}

// A Specimen is what was put in the beam, as far as the user says.
type Specimen struct {
	Name    string  // for people
	Length  float64 // along the beam, mm; 0 when not stated
	Section string  // transverse, longitudinal, rolled, powder; empty when not stated
	Mount   string  // material about it; empty when not stated
}

// FootprintFactor returns the share of a fixed-slit beam that meets a specimen of the given length (mm), and the
// change that an automatic slit makes against a fixed one: min(1, l sin θ/(R α)) or sin θ. A length of 0 means longer
// than the beam.
func FootprintFactor(twoTheta float64, slit Slit, radius, length float64) float64 {
	sin := math.Sin(Radians(twoTheta) / 2)
	switch {
	case slit.Mode == SlitAutomatic:
		return sin
	case length > 0 && slit.Value > 0:
		return math.Min(1, length*sin/(radius*Radians(slit.Value)))
	}
	return 1
}

// InformationDepth returns the depth in µm from which a share (0 to 1) of the diffracted signal comes in symmetric
// reflection: t = −ln(1 − share) sin θ/(2 μ), with μ in 1/cm.
func InformationDepth(twoTheta, mu, share float64) float64 {
	return -math.Log1p(-share) * math.Sin(Radians(twoTheta)/2) / (2 * mu) * 1e4
}
