package analysis

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/diagnose"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
)

// Steps says how far an analysis goes.
type Steps int

// The depths. Each includes those before it.
const (
	Everything Steps = iota // the default: identify and quantify
	PeaksOnly
	IdentifyOnly
)

// A Job is one scan with everything that steers its analysis. Only the scan is needed.
type Job struct {
	Measurement
	Setting
	Search
	Standards
	Micrograph
	Steps      Steps             // how far the analysis goes; the zero value goes all the way
	Provenance result.Provenance // for the record; nothing follows from it
	Workers    int               `json:"-"` // 0 means 2
	// Begin, when not nil, waits for the fit of a scan like this one, from which that of named phases begins.
	Begin func() *Start `json:"-"`
	// Progress, when not nil, is told what is being tried and what explains the scan so far; calls do not overlap. It changes nothing.
	Progress func(result.Progress) `json:"-"`

	carried
}

// carried is what one fit of an analysis tells the next.
type carried struct {
	dropped    []string           // ids of phases that were named and are not there
	keepUnseen bool               // fit them all the same
	askedFor   int                // how many phases were named, when a search among them chose; 0 otherwise
	axes       map[string][3]int  // texture axes of phases that are decided
	deltaB     map[string]float64 // and the changes of their displacement parameters, Å²
}

// A Measurement is the scan and what of it is used.
type Measurement struct {
	Scan         xrd.Scan     // angles and intensities
	File, SHA256 string       // of the scan, for the record
	Range        [2]float64   // degrees 2θ; 0, 0 means all
	Masks        [][2]float64 // ranges left out, degrees 2θ
	Blank        *xrd.Scan    // of the mount and holder; nil for none
}

// A Setting is what is known of diffractometer and specimen.
type Setting struct {
	Radiation        xrd.Radiation         // zero: what the scan says, else Cu, assumed
	RadiationAssumed bool                  // nobody said what the tube is
	Instrument       xrd.Instrument        // radius 0: 200 mm; without widths: those of an ordinary one
	Specimen         xrd.Specimen          // what was put in the beam
	Thickness        float64               // of the specimen, mm; 0 when not stated
	Preparations     []refdata.Preparation // materials of the laboratory's own, beside refdata.Preparations; nil for none
}

// A Search says which phases may be named.
type Search struct {
	Collection identify.Collection // nil: the starter collection
	Filter     identify.Filter     // which phases of the collection may be named
	Phases     []string            // ids; when given, nothing is searched
	Searched   bool                // Phases come from a search of a series: naming them claims none as the specimen's own
	Aside      []string            // ids of phases that are fitted and left out of the specimen's 100 %, as preparation leaves them
	Watch      []string            // ids of phases whose detection limit is asked for beside the search
}

// Standards turn intensities into amounts, or check them.
type Standards struct {
	Spike       *Spike          // a standard that was mixed in; nil for none
	External    *External       // an external standard; Spike wins
	Anchor      string          // id of a phase of known cell that fixes the angle scale; a spike does so, too
	Composition []ElementAmount // measured chemistry to check the phases against
	Factors     *FactorTable    // of reference intensity ratios, from weighed mixtures; nil for none
	Grains      []Grain         // sizes of the grains of a powder, for the correction after Brindley
	WantedLimit float64         // detection limit that is wanted for phases that are asked for, wt%; 0 means 2
}

// A Micrograph is what was measured on an image of a section.
type Micrograph struct {
	Intercepts []xrd.Intercept     // mean linear intercepts of the regions; nil when not known
	Spread     xrd.InterceptSpread // of the intercepts; zero when not stated
	Areas      []Area              // area fractions of phases; nil for none
}

// An Area is the share of a section that a phase takes on a micrograph, by point counting (ASTM E562, ISO 9042) or image
// analysis. By Delesse's principle it is the volume fraction.
type Area struct {
	ID      string  // of the phase
	Percent float64 // of the area of the section
	U       float64 // standard uncertainty, per cent of the area
}

// A Spike is a standard mixed into the powder.
type Spike struct {
	ID             string  // of its phase
	WeightPercent  float64 // of the spiked powder
	Crystallinity  float64 // 0 means 1
	CrystallinityU float64 // its standard uncertainty
}

// An ElementAmount is measured chemistry: wt% with standard uncertainty (0: 3 % relative, at least 0.5 wt%, is taken).
type ElementAmount = diagnose.ElementAmount

// A Grain is the size of the grains of a phase of a powder.
type Grain struct {
	ID       string  // of the phase; empty: of every phase that no other entry names
	Diameter float64 // µm
}

// Errors of Run; test with errors.Is.
var (
	ErrUnknownPhase = errors.New("unknown phase")
	ErrNothingLeft  = errors.New("nothing left to analyse")
)

// withDefaults fills in what a job leaves open.
func (j Job) withDefaults() Job {
	if !(j.Radiation.KAlpha1 > 0) {
		if s := j.Scan.About.Radiation; s != nil {
			j.Radiation = *s
		} else {
			j.Radiation, _ = xrd.ParseRadiation("Cu")
			j.RadiationAssumed = true
		}
	}
	ins, ordinary := &j.Instrument, xrd.DefaultInstrument()
	if !(ins.Radius > 0) {
		ins.Radius = ordinary.Radius
	}
	if ins.GaussTan2 == 0 && ins.GaussTan == 0 && ins.GaussConst == 0 && ins.LorentzSize == 0 && ins.LorentzStrain == 0 {
		ins.GaussTan2, ins.GaussTan, ins.GaussConst, ins.LorentzSize, ins.LorentzStrain = ordinary.GaussTan2, ordinary.GaussTan, ordinary.GaussConst, ordinary.LorentzSize, ordinary.LorentzStrain
	}
	if j.Collection == nil {
		j.Collection = library.Starter()
	}
	if len(j.Preparations) > 0 {
		j.Collection = withMaterials{j.Collection, j.Preparations}
	}
	if j.Factors != nil {
		j.Collection = withFactors{j.Collection, j.Factors.Factors}
	}
	return j
}

// withMaterials is a collection some of whose phases a laboratory knows as materials of preparation: they join the watch-list.
type withMaterials struct {
	identify.Collection
	materials []refdata.Preparation
}

// Entry implements identify.Collection.
func (c withMaterials) Entry(i int) refdata.Entry {
	e := c.Collection.Entry(i)
	e.Preparation = c.from(e.ID, e.Preparation)
	return e
}

// Phase implements identify.Collection.
func (c withMaterials) Phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	p, err := c.Collection.Phase(i, beam)
	p.Preparation = c.from(p.ID, p.Preparation)
	return p, err
}

func (c withMaterials) from(id, known string) string {
	for _, m := range c.materials {
		if m.Phase != "" && strings.EqualFold(m.Phase, id) {
			return strings.TrimSpace(m.Material + ": " + m.From)
		}
	}
	return known
}

// named returns the ids of the phases that the job names, each once: those to fit, the anchor and the standard.
func (j Job) named() []string {
	ids := append(append([]string{}, j.Phases...), j.Anchor)
	if j.Spike != nil {
		ids = append(ids, j.Spike.ID)
	}
	var out []string
	for _, id := range ids {
		if id != "" && !holds(out, id) {
			out = append(out, id)
		}
	}
	return out
}

// spiked reports whether a phase is the standard that was added.
func (j Job) spiked(id string) bool { return j.Spike != nil && strings.EqualFold(id, j.Spike.ID) }

// tell says what is being tried, and what explains the peaks so far (nil: nothing), to whoever wants to know.
func (p prepared) tell(so *identify.Explanation, words string) {
	if p.job.Progress == nil {
		return
	}
	at := result.Progress{Doing: words, Peaks: len(p.found.Peaks)}
	if so != nil {
		at.Share = so.Coverage.Share
		for _, m := range so.Matches {
			at.Found = append(at.Found, m.Phase.Name)
		}
	}
	p.job.Progress(at)
}

// anchor returns the id, as the collection writes it, of the phase that is to fix the angle scale; "" for none.
func (j Job) anchor() string {
	id := j.Anchor
	if id == "" && j.Spike != nil {
		id = j.Spike.ID
	}
	if id == "" {
		return ""
	}
	i, err := Find(j.Collection, id)
	if err != nil {
		return "" // told where the phase is asked for
	}
	return j.Collection.Entry(i).ID
}

// Find returns the index of a phase of a collection by its id, whatever its case; ErrUnknownPhase without one.
func Find(c identify.Collection, id string) (int, error) {
	for i := range c.Len() {
		if strings.EqualFold(c.Entry(i).ID, id) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%w %q", ErrUnknownPhase, id)
}

// subset is a collection of some phases of another.
type subset struct {
	of      identify.Collection
	indices []int
}

func (s subset) Len() int                  { return len(s.indices) }
func (s subset) Entry(i int) refdata.Entry { return s.of.Entry(s.indices[i]) }
func (s subset) Phase(i int, b refdata.Beam) (refdata.Phase, error) {
	return s.of.Phase(s.indices[i], b)
}

func subsetOf(c identify.Collection, ids []string) (subset, error) {
	s := subset{of: c}
	for _, id := range ids {
		i, err := Find(c, id)
		if err != nil {
			return subset{}, err
		}
		s.indices = append(s.indices, i)
	}
	return s, nil
}

// holds reports whether an id is among others, whatever its case.
func holds(ids []string, id string) bool {
	return slices.ContainsFunc(ids, func(s string) bool { return strings.EqualFold(s, id) })
}
