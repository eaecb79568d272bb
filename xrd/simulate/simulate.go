package simulate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// Errors of Run; test with errors.Is.
var (
	ErrInput       = errors.New("cannot be simulated")
	ErrNoStructure = errors.New("no structure and no reference intensity ratio")
)

// A Component is one phase of the specimen.
type Component struct {
	Phase         refdata.Phase // with its lines
	WeightPercent float64       // wt%; all are brought to 100
	SizeNM        float64       // mean crystallite size, nm; 0: lines are as narrow as the instrument lets them
	Strain        float64       // apparent microstrain e, of Γ = 4 e tan θ; 0 for none
	Pole          [3]int        // of March–Dollase texture; 0 0 0 for none
	March         float64       // its coefficient r; r < 1: the poles lie along the normal
	Stretch       float64       // relative growth of all edges of the cell
}

// A Halo is a broad hump of the background.
type Halo struct {
	D      float64 // Å, of its top
	Width  float64 // FWHM, degrees 2θ with Cu Kα; as many more as the wavelength is longer
	Height float64 // counts/s
}

// A Job is a specimen and a scan. Zero values leave a departure from the ideal out.
type Job struct {
	Components []Component    // of the specimen
	Radiation  xrd.Radiation  // of the tube
	Instrument xrd.Instrument // zero, widths, radius, slit
	Specimen   xrd.Specimen   // its length; 0: longer than the beam

	Lo, Hi, Step float64 // degrees 2θ
	Time         float64 // s per step
	Rate         float64 // counts/s at the top of Kα1 of corundum 113, a pure fine powder in place of the specimen
	Background   float64 // counts/s everywhere
	Air          float64 // counts/s that scattering by air adds at 5° with Cu Kα; falls with the angle
	Haloes       []Halo  // of amorphous matter; nil for none

	Displacement float64 // of the surface below the focusing plane, mm
	KBeta        float64 // intensity over that of the Kα doublet
	WLAlpha      float64 // intensity of W Lα over that of the Kα doublet
	EdgeStep     float64 // white radiation at the filter's edge, 1/degree (at 40°; elsewhere as cot θ) over the area of the line (Kα1) whose foot it makes
	Grain        float64 // diameter of the grains of a powder, µm, which absorb after Brindley; 0: fine
	Intercept    float64 // mean intercept of the grains of a section, µm; 0: fine, +Inf: much larger than 1/μ
	LineScatter  float64 // standard deviation of the logarithm of every line's intensity, as few grains make it
	Seed         uint64  // of LineScatter and of Count
}

// A Scan is what a job gives, counts per step; slices are parallel to the angles, curves and scales to the components.
type Scan struct {
	TwoTheta   []float64   // degrees
	Expected   []float64   // what counting would give on average
	Background []float64   // all but the lines
	Curves     [][]float64 // lines of each component
	Scales     []float64   // S_p of package pattern: Kα doublet of the strongest line, counts × degrees
}

// Run calculates the scan. ErrInput is for impossible input and ErrNoStructure for a phase whose intensity on a common scale is
// not known.
func Run(j Job) (Scan, error) {
	if err := j.check(); err != nil {
		return Scan{}, err
	}
	s := Scan{TwoTheta: j.angles()}
	setup := j.setup(s.TwoTheta)
	var err error
	if s.Scales, err = j.scales(); err != nil {
		return Scan{}, err
	}
	if s.Curves, err = pattern.Predict(setup, s.Scales); err != nil {
		return Scan{}, fmt.Errorf("%w: %w", ErrInput, err)
	}
	s.Background = j.background(s.TwoTheta, setup, s.Scales)
	s.Expected = append([]float64(nil), s.Background...)
	for _, c := range s.Curves {
		floats.Add(s.Expected, c)
	}
	return s, nil
}

// Setup returns the setup of the model that a noise-free scan of the job obeys, without intensities: for whoever wants to fit
// from the truth.
func (j Job) Setup(twoTheta []float64) pattern.Setup { return j.setup(twoTheta) }

// Count draws Poisson counts around expected ones. The same seed gives the same counts.
func Count(expected []float64, seed uint64) []float64 {
	source := rand.NewPCG(seed, 0x5ca77e7ed)
	out := make([]float64, len(expected))
	for i, mean := range expected {
		if mean > 0 {
			out[i] = distuv.Poisson{Lambda: mean, Src: source}.Rand()
		}
	}
	return out
}

func (j Job) angles() []float64 {
	x := make([]float64, int(math.Floor((j.Hi-j.Lo)/j.Step+1e-6))+1)
	for i := range x {
		x[i] = math.Round((j.Lo+float64(i)*j.Step)*1e6) / 1e6
	}
	return x
}

func (j Job) setup(x []float64) pattern.Setup {
	s := pattern.Setup{TwoTheta: x, Gain: 1, Radiation: j.Radiation, Instrument: j.Instrument, Specimen: j.Specimen,
		Start: pattern.Start{Displacement: j.Displacement, From: pattern.FullFit, Values: map[pattern.Key]float64{
			{Kind: pattern.Displacement}: j.Displacement, {Kind: pattern.KBetaShare}: j.KBeta, {Kind: pattern.WLAlpha}: j.WLAlpha}}}
	rnd := rand.New(rand.NewPCG(j.Seed, 0x9a1c))
	for _, c := range j.Components {
		p, poles := c.Phase, [][3]int(nil)
		if j.LineScatter > 0 {
			p.Lines = append([]refdata.Line(nil), p.Lines...)
			for i := range p.Lines {
				p.Lines[i].Intensity *= math.Exp(rnd.NormFloat64() * j.LineScatter)
			}
		}
		at := func(k pattern.Kind) pattern.Key { return pattern.Key{Kind: k, ID: p.ID} }
		if c.SizeNM > 0 {
			s.Start.Values[at(pattern.Size)] = pattern.SizeNM(c.SizeNM, j.Radiation.KAlpha1) // its own inverse
		}
		s.Start.Values[at(pattern.Strain)] = xrd.Degrees(4 * c.Strain)
		for _, k := range []pattern.Kind{pattern.CellA, pattern.CellB, pattern.CellC} {
			s.Start.Values[at(k)] = c.Stretch
		}
		if c.Pole != ([3]int{}) {
			poles = [][3]int{c.Pole}
			s.Start.Values[pattern.Key{Kind: pattern.TextureLogR, ID: p.ID, Pole: c.Pole}] = math.Log(c.March)
		}
		s.Phases, s.Poles = append(s.Phases, p), append(s.Poles, poles)
	}
	return s
}

// corundum113 is the spacing of corundum 113, Å.
const corundum113 = 2.0853

// scales returns S_p of every component.
func (j Job) scales() ([]float64, error) {
	at, ok := xrd.TwoTheta(corundum113, j.Radiation.KAlpha1)
	if !ok {
		return nil, fmt.Errorf("%w: the wavelength %g Å is too long for corundum 113, to which the count rate refers", ErrInput, j.Radiation.KAlpha1)
	}
	fwhm, eta := xrd.ThompsonCoxHastings(j.Instrument.GaussianFWHM(at), j.Instrument.LorentzianFWHM(at))
	reference := j.Rate * j.Time / xrd.PseudoVoigt(0, fwhm, eta) * (1 + j.Radiation.Ratio) / xrd.FootprintFactor(at, xrd.Slit{Mode: j.Instrument.Slit.Mode}, j.Instrument.Radius, 0)
	oxide, _ := refdata.ParseFormula("Al2O3")
	var corundum, mix float64
	for _, e := range oxide.Composition() {
		el, _ := element.Lookup(e.Symbol)
		mu, _ := element.MassAttenuation(el.Z, j.Radiation.KAlpha1)
		corundum += e.MassFraction * mu
	}
	for _, c := range j.Components {
		if !(c.Phase.RIR.Value > 0) || !(c.Phase.MassAbsorption > 0) || !(c.Phase.Density > 0) {
			return nil, fmt.Errorf("%w: phase %s; give a CIF of it with --library", ErrNoStructure, c.Phase.ID)
		}
		mix += c.WeightPercent / 100 * c.Phase.MassAbsorption
	}
	grains := j.grains()
	out := make([]float64, len(j.Components))
	for i, c := range j.Components {
		out[i] = reference * c.WeightPercent / 100 * c.Phase.RIR.Value * corundum / mix * grains[i]
		out[i] /= math.Pow(1+c.Stretch, 3)
	}
	return out, nil
}

// GrainFactors returns by how much each component of a job shows more of itself than in a fine powder, 1 for all when grains are
// fine: 2 μ̄ ∫ E_p² dx of quantify.Mosaic. It returns ErrNoStructure where an absorption is not known.
func GrainFactors(j Job) ([]float64, error) {
	for _, c := range j.Components {
		if !(c.Phase.MuLinear() > 0) {
			return nil, fmt.Errorf("%w: phase %s", ErrNoStructure, c.Phase.ID)
		}
	}
	return j.grains(), nil
}

// grains returns by how much each phase shows more of itself than in a fine powder: 2 μ̄ ∫ E_p² dx in a section, Brindley's τ of its
// strongest line in a powder.
func (j Job) grains() []float64 {
	out := make([]float64, len(j.Components))
	m := quantify.Mosaic{Common: j.Intercept, Spread: quantify.DefaultSpread}
	var v []float64
	var there []int
	for i, c := range j.Components {
		out[i] = 1
		if c.WeightPercent > 0 {
			there = append(there, i)
			v = append(v, c.WeightPercent/c.Phase.Density)
			m.Mu = append(m.Mu, c.Phase.MuLinear())
		}
	}
	if !(j.Intercept > 0 || j.Grain > 0) || len(there) < 2 {
		return out
	}
	floats.Scale(1/floats.Sum(v), v)
	mean := floats.Dot(v, m.Mu)
	if j.Grain > 0 {
		for _, i := range there {
			out[i] = quantify.GrainFactor(j.Components[i].Phase, j.Grain, mean)
		}
		return out
	}
	for k, path := range m.Paths(v) {
		out[there[k]] = 2 * mean * path
	}
	return out
}

// The shape of what air scatters: it falls with the angle, from the beam that the detector nearly sees (common practice).
const (
	airFrom  = 5.0 // degrees 2θ, Cu Kα
	airFalls = 6.0 // degrees
	airRest  = 1.5 // degrees: the long tail 1/(2θ + 5°), of the height at 5°
)

func (j Job) background(x []float64, setup pattern.Setup, scales []float64) []float64 {
	out := make([]float64, len(x))
	cu := 1.5405929 / j.Radiation.KAlpha1
	for i, t := range x {
		out[i] = j.Background + j.Air*(math.Exp(-(t*cu-airFrom)/airFalls)+airRest/(t*cu+airFrom))
		for _, h := range j.Haloes {
			at, ok := xrd.TwoTheta(h.D, j.Radiation.KAlpha1)
			if u := (t - at) * cu / h.Width; ok {
				out[i] += h.Height * math.Exp(-4*math.Ln2*u*u)
			}
		}
		out[i] *= j.Time
	}
	if j.EdgeStep > 0 {
		j.addEdge(out, x, setup, scales)
	}
	return out
}

const (
	edgeAt     = 40.0 // degrees 2θ for which the step is stated
	edgeWindow = 0.2  // full width at half maximum of the detector's window, of the wavelength (strip and proportional detectors at 8 keV; common practice)
)

// addEdge adds white radiation to every line: the filter takes what is shorter than its K edge, the detector what is far from its
// line. The planes that diffract Kα1 at θ send λ to sin θ' = sin θ λ/λ1, so that it steps up with the angle where λ is that of the
// edge, on the low-angle foot of the line. Per degree it goes as dλ/dθ = λ cot θ.
func (j Job) addEdge(out, x []float64, setup pattern.Setup, scales []float64) {
	_, edge, ok := j.Radiation.Filter()
	if !ok {
		return
	}
	for p, phase := range setup.Phases {
		for _, l := range phase.Lines {
			at, ok := xrd.TwoTheta(l.D, j.Radiation.KAlpha1)
			if !ok {
				continue
			}
			shift := j.Instrument.Shift(at, j.Displacement) + j.Instrument.Zero
			area := scales[p] * l.Intensity / 100 / (1 + j.Radiation.Ratio) * j.Instrument.IntensityFactor(at, j.Specimen.Length)
			for i, t := range x {
				theta := xrd.Radians((t - shift) / 2)
				wavelength := 2 * l.D * math.Sin(theta)
				if u := (wavelength/j.Radiation.KAlpha1 - 1) / edgeWindow; wavelength >= edge && u < 1.5 {
					out[i] += j.EdgeStep * area * math.Tan(xrd.Radians(edgeAt/2)) / math.Tan(theta) * math.Exp(-4*math.Ln2*u*u)
				}
			}
		}
	}
}
