package quantify

import (
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/xrd/pattern"
)

// Role says how a phase counts.
type Role int

// The roles: part of the specimen, an artefact of preparation, the standard that was added, a phase that was asked for
// and is not there (which gets a limit and no fraction).
const (
	Specimen Role = iota
	Preparation
	Standard
	Absent
)

// A Spike is a standard mixed into the powder.
type Spike struct {
	Phase          int     // index of the standard among the phases of the fit
	WeightPercent  float64 // of the spiked powder, wt%
	Crystallinity  float64 // mass fraction of the standard that is crystalline, 0 to 1; 0 means 1
	CrystallinityU float64 // its standard uncertainty
}

// A Scan is one fitted scan of a specimen.
type Scan struct {
	Fit         *pattern.Fit // of that scan
	Unexplained float64      // share of the net intensity that no phase explains, 0 to 1

	// Optics holds by how much the logarithm of each scale changes for one standard uncertainty of optics that were fitted,
	// parallel to the phases of the fit; nil for none.
	Optics []float64

	Along bool // a section that the axis of the piece lies in, not across: longitudinal
}

// Input is a fitted pattern with what is known of its phases. Roles is parallel to the phases of the fit.
type Input struct {
	Fit         *pattern.Fit // of the first scan
	Roles       []Role       // of its phases
	Spike       *Spike       // standard in the powder; nil for none
	External    *External    // standard beside it; nil for none
	Threshold   float64      // significance, in standard uncertainties, at which a phase is accepted, for detection limits
	Unexplained float64      // as in Scan
	Optics      []float64    // as in Scan
	Along       bool         // as in Scan

	// Grain holds the diameter of the grains of each phase of a powder, µm, parallel to Roles; 0 where not known, nil for
	// none. Fractions are then corrected after Brindley.
	Grain []float64

	// Section says that the specimen is a section; nil for a powder. Sizes of the grains of a powder win.
	Section *Section

	// Corrected says that the reference intensity ratios of its phases are already corrected by factors; nil for none. It
	// tells what they leave open.
	Corrected *Factors

	// Rivals holds for each phase others that would explain its lines as well, parallel to Roles; nil for none. Which of them is there
	// nobody knows, so that intervals hold the fractions with each.
	Rivals [][]refdata.Phase

	// Hidden marks phases that show no line of their own and that nobody named, parallel to Roles; nil for none. They need not be there:
	// intervals hold the fractions without each.
	Hidden []bool

	// Refused marks phases whose intensities say nothing of their amount; nil for none. Of the specimen, they withhold all
	// fractions.
	Refused []bool

	// More holds further scans of the same specimen, whose phases are told by their ids; nil for none. Fractions are then
	// those that all scans agree on best; their order does not matter, but that an external standard belongs to Fit.
	More []Scan
}

// A problem is an Input with what follows from it before fractions do. Nothing in it changes once it is made.
type problem struct {
	Input
	scans       []Scan
	unexplained float64 // of all scans, the most

	observed       // what the scans say together
	tau, tauU      []float64
	seen           []float64    // intensities in the sense of a Mosaic; nil for a powder
	pull           [][]float64  // derivative of the logarithm of each amount to that of each measured one; nil: one to one
	reach          []float64    // path, cm, that 95 % of the intensity of each phase comes from; nil: that of a fine powder
	hidden         []float64    // relative uncertainty of each amount by a texture that is not seen; nil for a powder
	sources        []budgetPart // of the absorption in a section, for all phases; nil for none
	factors        []float64    // intensity of each scan over that of the first for the same specimen; 0 for one that says nothing
	repeats        *Repeats     // nil for one scan
	leastScale     []float64    // scale of the detection limit of each phase, in the first scan
	amountsOnly    bool         // no limits are wanted
	incommensurate bool         // scans have no phase in common: how much of each is not known
}

// newProblem works out the amounts of an input.
func newProblem(in Input) *problem {
	p := &problem{Input: in, scans: append([]Scan{in.Scan()}, in.More...), factors: []float64{1}, leastScale: make([]float64, len(in.Roles))}
	each := make([]observed, len(p.scans))
	for i, s := range p.scans {
		p.unexplained = math.Max(p.unexplained, s.Unexplained)
		each[i] = s.observe(in.Fit.Setup.Phases)
	}
	p.observed = each[0]
	if len(each) > 1 {
		c, ok := newCombination(each, in.Roles)
		p.observed, p.factors, p.repeats = c.result()
		p.incommensurate = !ok
	}
	p.tau, p.tauU = p.grains()
	p.amounts, p.zeroU = divided(p.amounts, p.tau), divided(p.zeroU, p.tau)
	for k, phase := range in.Fit.Setup.Phases {
		p.leastScale[k] = p.least(phase)
	}
	return p
}

// observed is what one scan, or several together, say of the amounts of some phases. Covariances are of the logarithms of
// the amounts, 0 for an amount of 0.
type observed struct {
	amounts            []float64 // S/RIR times the volume ratio, proportional to mass
	zeroU              []float64 // standard uncertainty of an amount of 0; infinite: the scan says nothing of the phase
	volume             []float64 // fitted volume of the cell over that of the reference
	counting, scatters [][]float64
	scatterFree        []float64 // degrees of freedom on which the scatter of lines rests
	optics             []float64 // change of the logarithms for one standard uncertainty of optics; nil for none
	pulled             []float64 // change of the logarithms if nothing were expected of the widths of lines; nil for several scans

	between     [][]float64 // what scans differ by; nil for one
	betweenFree float64
}

// observe turns a fit into what it says of the phases of an input. RIR is I/(V²ρ), ρV is fixed, so that a cell that has
// grown by a factor f diffracts 1/f as strongly per mass.
func (s Scan) observe(phases []refdata.Phase) observed {
	n, f := len(phases), s.Fit
	o := observed{amounts: make([]float64, n), zeroU: make([]float64, n), volume: make([]float64, n),
		counting: zeros(n), scatters: zeros(n), scatterFree: make([]float64, n)}
	if s.Optics != nil {
		o.optics = make([]float64, n)
	}
	o.pulled = make([]float64, n)
	all := scatters(f)
	own := make([]int, n) // number of each phase in this fit, -1 where it has none
	for i, phase := range phases {
		own[i] = indexOf(f, phase.ID)
	}
	for i, k := range own {
		o.zeroU[i], o.volume[i], o.scatterFree[i] = math.Inf(1), 1, 1
		if k < 0 {
			continue
		}
		rir := f.Setup.Phases[k].RIR.Value
		o.volume[i] = f.VolumeRatio(k)
		o.amounts[i] = f.Scales[k] * o.volume[i] / rir
		o.zeroU[i] = f.ZeroU[k] / rir
		o.pulled[i] = f.WidthPull(k)
		o.scatterFree[i] = all[k].freedom
		if s.Optics != nil {
			o.optics[i] = s.Optics[k]
		}
		for j, l := range own {
			if l >= 0 {
				o.counting[i][j], o.scatters[i][j] = scaleCovariance(f, all, k, l)
			}
		}
	}
	return o
}

// indexOf returns the number of a phase in a fit, -1 for none.
func indexOf(f *pattern.Fit, id string) int {
	return slices.IndexFunc(f.Setup.Phases, func(p refdata.Phase) bool { return p.ID == id })
}

// scaleCovariance returns the covariance of the logarithms of two scales of a fit that counting makes, and what the
// scatter of lines adds; 0 for a scale of 0.
func scaleCovariance(f *pattern.Fit, all []scatter, p, q int) (counting, scattered float64) {
	d := f.Scales[p] * f.Scales[q]
	if !(d > 0) {
		return 0, 0
	}
	c := f.ScaleCov[p][q] * f.Agreement.BerarLelann * f.Agreement.BerarLelann / d
	counting = c * math.Sqrt(all[p].counting*all[q].counting)
	return counting, c*math.Sqrt(all[p].inflation*all[q].inflation) - counting
}

// phasesOf returns the numbers of the phases that have a role.
func (in Input) phasesOf(role Role) []int {
	var out []int
	for i, r := range in.Roles {
		if r == role {
			out = append(out, i)
		}
	}
	return out
}

// needsRIR reports whether the fractions depend on the amount of phase number p: that of a preparation artefact does not
// matter unless everything is set against a standard.
func (in Input) needsRIR(p int) bool {
	r := in.Roles[p]
	return r == Specimen || (in.Spike != nil || in.External != nil) && r != Absent
}

// withheld returns the phases that make the fractions unknown.
func (in Input) withheld() (out []int) {
	for i := range in.Roles {
		if in.needsRIR(i) && (!(in.Fit.Setup.Phases[i].RIR.Value > 0) || in.Refused != nil && in.Refused[i]) {
			out = append(out, i)
		}
	}
	return out
}

// ones returns n times 1.
func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// Scan is the scan of an input by itself.
func (in Input) Scan() Scan { return Scan{in.Fit, in.Unexplained, in.Optics, in.Along} }
