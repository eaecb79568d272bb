package analysis

import (
	"context"
	"errors"
	"fmt"
	"math"
	"phasetally/xrd/result"
	"slices"
	"strings"

	"phasetally/peaks"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/quantify"
)

// Depth says how far an analysis goes.
type Depth int

// The depths. Each includes those before it.
const (
	Everything Depth = iota // the default: identify and quantify
	PeaksOnly
	IdentifyOnly
)

// A Job is one scan with everything that steers its analysis.
type Job struct {
	Scan             xrd.Scan
	File, SHA256     string // of the scan, for the record
	Radiation        xrd.Radiation
	RadiationAssumed bool
	Instrument       xrd.Instrument
	Specimen         xrd.Specimen
	Range            [2]float64   // degrees 2θ; 0, 0 means all
	Masks            [][2]float64 // ranges left out
	Blank            *xrd.Scan
	Collection       identify.Collection
	Filter           identify.Filter
	Phases           []string // ids; when given, nothing is searched
	Spike            *Spike
	External         *External       // an external standard; Spike wins
	Anchor           string          // id of a phase of known cell that fixes the angle scale; a spike does so, too
	Composition      []ElementAmount // measured chemistry to check the phases against
	Grains           []Grain         // sizes of the grains of a powder, for the correction after Brindley
	Thickness        float64         // of the specimen, mm; 0 when not stated
	WantedLimit      float64         // detection limit that is wanted for phases that are asked for, wt%; 0 means 2
	Watch            []string        // ids of phases whose detection limit is asked for beside the search
	Depth            Depth
	Provenance       result.Provenance
	Workers          int // 0 means 2

	searched bool          // Phases come from a search of the series: naming them claims none as the specimen's own
	begin    func() *start // waits for the fit of another scan of the series; nil for a scan alone
}

// A Spike is a standard mixed into the powder.
type Spike struct {
	ID             string
	WeightPercent  float64 // of the spiked powder
	Crystallinity  float64 // 0 means 1
	CrystallinityU float64
}

// Errors of Run; test with errors.Is.
var (
	ErrUnknownPhase = errors.New("unknown phase")
	ErrNothingLeft  = errors.New("nothing left to analyse")
)

// run is the state of one analysis.
type run struct {
	job     Job
	scan    xrd.Scan // what is left of the range and the masks
	masked  []bool   // of the points in range
	inRange xrd.Scan
	found   peaks.Found
	beam    refdata.Beam
	outcome *identify.Outcome
	roles   []quantify.Role
	input   quantify.Input
	answer  quantify.Answer
	checks  []quantify.LineCheck // of each member; nil when nothing can be compared
	order   []int                // members in the order of the document
	left    []leftover           // peaks that nothing explains; nil: not looked for yet

	watchedSeen []watchedSeen        // phases whose limit was asked for although they seem to be there
	slitStands  bool                 // no slit is fitted: that of another scan holds
	optics      *fittedSlit          // what was corrected although nobody stated it; nil for nothing
	opticsShift []float64            // of the logarithm of each scale for one standard uncertainty of that; nil for none
	same        *result.SameSpecimen // what each of them says alone; nil for one scan
	planes      []*[3]int            // of each member: the only planes that it shows, nil when it shows all
	twins       []twin               // named phases that are left to others; nil: not looked for yet
	falseAnchor *falseAnchor         // the anchor that was given and does not hold; nil when it does

	constant *quantify.External // of the external standard; nil without one or when it does not tell
	without  string             // why not
	doc      result.Document
}

// Run analyses one scan. A scan in which nothing is found is a Result without phases; an error is for input that
// nothing can be made of, or the context's.
func Run(ctx context.Context, job Job) (result.Analysis, error) {
	r := &run{job: job}
	return r.all(ctx)
}

// all does every step of the job.
func (r *run) all(ctx context.Context) (result.Analysis, error) {
	if err := r.measure(ctx); err != nil {
		return result.Analysis{}, err
	}
	r.finish()
	return result.Analysis{Document: r.doc, Curves: r.curves()}, ctx.Err()
}

// measure does what takes time, up to the fractions.
func (r *run) measure(ctx context.Context) error {
	if err := r.prepare(); err != nil {
		return err
	}
	r.found = peaks.Find(r.scan, r.job.Radiation, peaks.Settings{Instrument: r.calibrated()})
	r.leaveOut()
	r.describe()
	if r.job.Depth == PeaksOnly {
		return nil
	}
	if err := r.explain(ctx); err != nil {
		return err
	}
	if len(r.found.Peaks) == 0 { // a hump that a phase is fitted to is none of its lines
		for i := range r.outcome.Members {
			r.outcome.Members[i].Evidence = result.Named
		}
	}
	if err := r.doubtSlit(ctx); err != nil {
		return err
	}
	if err := r.measureStandard(ctx); err != nil {
		return err
	}
	r.share()
	return nil
}

// finish writes the document.
func (r *run) finish() {
	if r.job.Depth != PeaksOnly {
		r.report()
	}
	r.listPeaks()
	r.caution()
}

// prepare crops the scan and drops masked points.
func (r *run) prepare() error {
	r.inRange = r.job.Scan
	if r.job.Range != [2]float64{} {
		s, err := r.job.Scan.Crop(r.job.Range[0], r.job.Range[1])
		if err != nil {
			return fmt.Errorf("%w: %w", ErrNothingLeft, err)
		}
		r.inRange = s
	}
	r.scan = r.inRange
	if len(r.job.Masks) == 0 {
		return nil
	}
	r.masked = make([]bool, r.inRange.Len())
	var x, y, u []float64
	for i, t := range r.inRange.TwoTheta {
		for _, m := range r.job.Masks {
			r.masked[i] = r.masked[i] || t >= m[0] && t <= m[1]
		}
		if r.masked[i] {
			continue
		}
		x, y = append(x, t), append(y, r.inRange.Intensity[i])
		if r.inRange.Sigma != nil {
			u = append(u, r.inRange.Sigma[i])
		}
	}
	s, err := xrd.NewScan(x, y, u, r.inRange.About)
	if err != nil {
		return fmt.Errorf("%w after masking: %w", ErrNothingLeft, err)
	}
	r.scan = s
	return nil
}

// leaveOut drops the points that tell of the detector rather than the specimen, as if they had been masked.
func (r *run) leaveOut() {
	out := r.found.LeftOut
	if len(out) == 0 {
		return
	}
	if r.masked == nil {
		r.masked = make([]bool, r.inRange.Len())
	}
	kept := 0 // points of the scan so far
	for i, gone := range r.masked {
		if gone {
			continue
		}
		if len(out) > 0 && out[0] == kept {
			r.masked[i], out = true, out[1:]
		}
		kept++
	}
	r.scan, r.found = r.found.Without(r.scan)
}

// calibrated returns the instrument when its widths are known, nil otherwise.
func (r *run) calibrated() *xrd.Instrument {
	if r.job.Instrument.Calibrated {
		return &r.job.Instrument
	}
	return nil
}

// setup returns what every fit of this scan starts from.
func (r *run) setup() pattern.Setup {
	s := pattern.Setup{
		TwoTheta: r.scan.TwoTheta, Intensity: r.scan.Intensity, Sigma: r.found.Sigma,
		Radiation: r.job.Radiation, Instrument: r.job.Instrument, Specimen: r.job.Specimen,
	}
	if !s.Instrument.Calibrated && r.found.Width.Peaks > 0 {
		// What the peaks show is a better start than an ordinary instrument; strong lines are a little broader than
		// the narrowest phase.
		lo, hi := r.scan.Range()
		middle := (lo + hi) / 2
		ordinary, _ := xrd.ThompsonCoxHastings(s.Instrument.GaussianFWHM(middle), s.Instrument.LorentzianFWHM(middle))
		f := r.found.Width.At(middle) / ordinary
		if !(f > leastWidth && f < mostWidth) { // dense lines were taken for one
			f = 1
		}
		s.Instrument.U, s.Instrument.V, s.Instrument.W = s.Instrument.U*f*f, s.Instrument.V*f*f, s.Instrument.W*f*f
		s.Instrument.X, s.Instrument.Y = s.Instrument.X*f, s.Instrument.Y*f
	}
	s.Anchor = r.anchor()
	r.optics.apply(&s)
	if r.found.Noise.Kind != peaks.Recorded {
		s.Gain, s.Floor = r.found.Noise.Gain, r.found.Noise.Floor
	}
	if b := r.job.Blank; b != nil {
		s.Blank, s.BlankVar = onGrid(*b, r.scan.TwoTheta)
	}
	return s
}

// Widths of the peaks over those of an ordinary instrument within which they are believed.
const leastWidth, mostWidth = 0.3, 4.0

// onGrid interpolates a scan at other angles, with the variance of counts; outside its range the end values hold.
func onGrid(s xrd.Scan, x []float64) (y, variance []float64) {
	y, variance = make([]float64, len(x)), make([]float64, len(x))
	for i, t := range x {
		k, _ := s.Between(t, 180)
		switch {
		case k == 0:
			y[i] = s.Intensity[0]
		case k >= s.Len():
			y[i] = s.Intensity[s.Len()-1]
		default:
			w := (t - s.TwoTheta[k-1]) / (s.TwoTheta[k] - s.TwoTheta[k-1])
			y[i] = (1-w)*s.Intensity[k-1] + w*s.Intensity[k]
		}
		variance[i] = math.Max(1, y[i])
	}
	return y, variance
}

// explain identifies, or fits the named phases.
func (r *run) explain(ctx context.Context) error {
	_, hi := r.scan.Range()
	r.beam = refdata.Beam{Radiation: r.job.Radiation, Monochromator: r.job.Instrument.Monochromator, MaxTwoTheta: math.Min(175, hi+3)}
	filter := r.job.Filter
	collection := r.job.Collection
	if r.twins == nil {
		r.twins = []twin{}
		if err := r.pairTwins(); err != nil {
			return err
		}
	}
	named := slices.DeleteFunc(r.namedPhases(), r.isTwin)
	if len(r.job.Phases) > 0 {
		filter = identify.Filter{Require: named, Own: filter.Own}
		only, err := subsetOf(collection, named)
		if err != nil {
			return err
		}
		collection = only
	} else {
		filter.Require = slices.DeleteFunc(append(append([]string{}, filter.Require...), named...), r.isTwin)
	}
	for _, g := range r.job.Grains {
		if _, err := find(r.job.Collection, g.ID); g.ID != "" && err != nil {
			return err
		}
	}
	for _, id := range r.job.Watch {
		if _, err := find(r.job.Collection, id); err != nil {
			return err
		}
	}
	for _, id := range filter.Require {
		if _, err := find(collection, id); err != nil {
			return err
		}
	}
	job := identify.Job{Setup: r.setup(), Beam: r.beam, Collection: collection, Filter: filter, Workers: r.job.Workers}
	explain := r.search
	if len(r.job.Phases) > 0 {
		explain = r.fitNamed
	}
	var err error
	if r.outcome, err = explain(ctx, job); err != nil {
		return err
	}
	if r.dropTwin() {
		return r.explain(ctx)
	}
	if len(r.outcome.Members) == 0 || r.job.Depth != Everything {
		return nil
	}
	return r.refine(ctx)
}

// search identifies phases.
func (r *run) search(ctx context.Context, job identify.Job) (*identify.Outcome, error) {
	out, err := identify.Run(ctx, job)
	if err != nil {
		return nil, err
	}
	return r.identifyCorrected(ctx, job, out)
}

// fitNamed fits the phases that the job names, for fractions.
func (r *run) fitNamed(ctx context.Context, job identify.Job) (*identify.Outcome, error) {
	out, set, err := identify.Given(job)
	if err != nil || len(out.Members) == 0 {
		return out, err
	}
	if r.job.begin != nil {
		r.job.begin().apply(&set)
	}
	fit, err := quantify.FitKnown(ctx, set)
	if err != nil {
		return nil, err
	}
	out.Take(fit)
	return out, nil
}

// namedPhases returns the ids of the phases that the job names, each once: those to fit, the anchor and the standard.
func (r *run) namedPhases() []string {
	ids := append(append([]string{}, r.job.Phases...), r.job.Anchor)
	if r.job.Spike != nil {
		ids = append(ids, r.job.Spike.ID)
	}
	var out []string
	for _, id := range ids {
		if id != "" && !slices.ContainsFunc(out, func(other string) bool { return strings.EqualFold(id, other) }) {
			out = append(out, id)
		}
	}
	return out
}

// refine fits what a search has found once more for fractions, and corrects optics that the lines decide for. A search has
// had its say about its phases; named ones are judged by the last fit.
func (r *run) refine(ctx context.Context) error {
	named := len(r.job.Phases) > 0
	fit, err := r.outcome.Fit, error(nil)
	if !named {
		if fit, err = quantify.Refine(ctx, fit); err != nil {
			return err
		}
	}
	if fit, err = r.correctSlit(ctx, fit); err != nil {
		return err
	}
	r.outcome.Fit = fit
	if named {
		r.outcome.Take(fit)
		return r.doubtAnchor(ctx)
	}
	for i := range r.outcome.Members {
		r.outcome.Members[i].Lines = fit.Lines(i)
	}
	return r.doubtAnchor(ctx)
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
		i, err := find(c, id)
		if err != nil {
			return subset{}, err
		}
		s.indices = append(s.indices, i)
	}
	return s, nil
}

func find(c identify.Collection, id string) (int, error) {
	for i := range c.Len() {
		if strings.EqualFold(c.Entry(i).ID, id) {
			return i, nil
		}
	}
	return 0, fmt.Errorf("%w %q", ErrUnknownPhase, id)
}

// An ElementAmount is measured chemistry: wt% with standard uncertainty (0: 3 % relative is taken).
type ElementAmount struct {
	Symbol           string
	WeightPercent, U float64
}
