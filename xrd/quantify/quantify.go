package quantify

import (
	"math"
)

// A Source is one entry of an uncertainty budget: standard uncertainty in wt%.
type Source struct {
	Name string  // what the uncertainty comes from
	U    float64 // wt%
}

// A Value is a percentage with its 95 % interval. NaN means not known.
type Value struct {
	Percent float64 // wt%, or vol% of a volume
	Lo, Hi  float64 // ends of the 95 % interval, in the same unit
}

// unknown is a Value that could not be computed.
var unknown = Value{math.NaN(), math.NaN(), math.NaN()}

// A Fraction is the share of one phase.
type Fraction struct {
	Weight   Value    // wt% of the crystalline part of the specimen
	Volume   Value    // vol% of it, of the solid
	Original Value    // wt% of the original specimen with its amorphous part; unknown without a standard
	Fine     Value    // wt% of a section if it were a fine powder; unknown for a powder
	Coarse   Value    // wt% if every grain were much larger than 1/μ; unknown also when that makes no difference
	Limit    float64  // detection limit, wt%; NaN when unknown
	Depth    float64  // from which 95 % of the intensity of its strongest line in range comes, µm of the solid; NaN when unknown
	MuRatio  float64  // μ of the phase over the mean of the specimen; NaN when unknown
	Budget   []Source // of Weight
}

// An Answer holds the fractions, parallel to the phases of the fit, the covariance of their weights (wt%²; 0 for phases
// that are not the specimen's) and the absolute result of a standard.
type Answer struct {
	Fractions  []Fraction  // parallel to the phases of the fit
	Covariance [][]float64 // wt%²
	// VolumeCovariance is that of the volumes, vol%²; 0 where a density is not known.
	VolumeCovariance [][]float64
	Amorphous        *Value // wt% of the original specimen; nil without a standard, or when the scan does not show it
	// Attenuation is the μ/ρ of the specimen that an external standard was used with, cm²/g; 0 without one.
	Attenuation, AttenuationU float64    // with its standard uncertainty
	Absorption                Absorption // how absorption in single grains was taken into account
	tau                       []float64  // what each amount was divided by for it
	MeanMu                    float64    // linear absorption of the solid specimen, 1/cm; 0 when not known
	Repeats                   *Repeats   // how several scans agree; nil for one
	Feet                      []Foot     // broader profiles under the lines of each phase, parallel to Fractions; zero for none
	Trend                     *Trend     // of intensities with the angle, of all phases; nil for none
	// Withheld lists the phases whose missing RIR, or which being refused, makes the fractions unknown.
	Withheld []int
}

// The relative standard uncertainties that are taken when nothing better is known (common practice).
const (
	defaultRIRU = 0.10
	densityU    = 0.005
)

// newAnswer returns an answer that says nothing yet.
func newAnswer(in Input) Answer {
	n := len(in.Roles)
	a := Answer{Fractions: make([]Fraction, n), Covariance: zeros(n), VolumeCovariance: zeros(n), Withheld: in.withheld()}
	for i := range a.Fractions {
		a.Fractions[i] = Fraction{Weight: unknown, Volume: unknown, Original: unknown, Fine: unknown, Coarse: unknown, Limit: math.NaN(), Depth: math.NaN(), MuRatio: math.NaN()}
	}
	return a
}

// Absorption contrast beyond which microabsorption matters (PRACTICE: μ_p/μ̄ outside 0.7 to 1.4).
const (
	leastMuRatio = 0.7
	mostMuRatio  = 1.4
)
