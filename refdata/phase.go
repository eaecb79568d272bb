package refdata

import "phasetally/xrd"

// A Beam is what lines depend on besides the structure.
type Beam struct {
	Radiation     xrd.Radiation     // of the tube
	Monochromator xrd.Monochromator // in the diffracted beam
	MaxTwoTheta   float64           // lines up to this angle for Kα1, degrees; 0 means 150
}

// A Family is a set of symmetry-equivalent reflections.
type Family struct {
	H, K, L      int     // Miller indices of one of its planes
	Multiplicity int     // number of reflections, both Friedel mates counted
	F2           float64 // mean |F|², electrons²; 0 when the phase comes from a list
}

// A Line is all reflections of exactly one spacing.
type Line struct {
	D         float64  // Å
	TwoTheta  float64  // of Kα1 of the phase's beam, degrees
	Intensity float64  // integrated, fixed slit, strongest line of the phase = 100
	Families  []Family // strongest first; empty when the indices are not known
}

// A RIR is a reference intensity ratio with what must be known to use it.
type RIR struct {
	Value     float64 // I/Ic against corundum 113; 0 when not known
	RelU      float64 // relative standard uncertainty
	Origin    string  // "computed" or "measured"; empty when not known
	Basis     string  // "area" or "height"
	Radiation string  // anode or wavelength it holds for
}

// An ElementShare is the mass fraction of an element.
type ElementShare struct {
	Symbol       string  // of the element
	MassFraction float64 // 0 to 1
}

// RelativeBU is the relative standard deviation of published displacement parameters of one element in one substance (common practice).
const RelativeBU = 0.3

// A Phase is everything known of a phase for one beam. Its slices are shared; do not change them.
type Phase struct {
	ID, Name, Formula string         // short and stable; Name and Formula are for people
	SpaceGroup        string         // Hermann–Mauguin symbol; empty when not known
	System            CrystalSystem  // crystal system
	Cell              *Cell          // nil when not known
	Z                 float64        // formula units per cell; 0 when not known
	Density           float64        // g/cm³; 0 when not known
	DensityOrigin     string         // "computed" or "given"
	Composition       []ElementShare // by mass
	MassAbsorption    float64        // μ/ρ at Kα1, cm²/g; 0 when not known
	RIR               RIR            // reference intensity ratio over corundum
	Beam              Beam           // that the lines were computed for
	Lines             []Line         // ascending 2θ
	MeanB             float64        // mean isotropic displacement parameter of the lines, Å²; 0 when not known
	MeanBU            float64        // standard uncertainty of MeanB, Å²; 0 when not known
	AssumedB          bool           // MeanB is a default, not published with the structure
	Rotations         [][9]int       // Laue group acting on h k l as row vectors, row-major; nil: the holohedry of System
	Preparation       string         // where it comes from when it is a preparation artefact; empty otherwise
	SolidSolution     bool           // forms wide solid solutions, so its cell may differ by several per cent
	Source            string         // publication or file
	Confidence        string         // "high", "medium", "low"; empty when not judged
	Cautions          []xrd.Caution  // about the reference data
}

// MuLinear returns the linear absorption coefficient, 1/cm; 0 when density or absorption is not known.
func (p Phase) MuLinear() float64 { return p.MassAbsorption * p.Density }

// Strongest returns the index of the strongest line, -1 for a phase without lines.
func (p Phase) Strongest() int {
	best := -1
	for i, l := range p.Lines {
		if best < 0 || l.Intensity > p.Lines[best].Intensity {
			best = i
		}
	}
	return best
}
