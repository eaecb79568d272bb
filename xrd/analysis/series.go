package analysis

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"golang.org/x/sync/errgroup"

	"phasetally/xrd"
	"phasetally/xrd/identify"
)

// SeriesSchema names the version of SeriesResult.
const SeriesSchema = "phasetally.series/1"

// A SeriesJob is many scans to be analysed with the same phases and the same model.
type SeriesJob struct {
	Files      []string // a name per scan; the order of the result
	Collection identify.Collection
	Phases     []string   // ids, fixed for every scan; empty: those that the scans show, see SeriesPhases
	Conditions Conditions // of the scans, by file name; the zero value has none
	Workers    int        // scans analysed at the same time; 0 means 2

	// Load gives scan i with its settings; what it says of collection, phases and workers is not used. It is called from
	// several goroutines, twice for a scan when phases are searched.
	Load func(i int) (Job, error)
	// Earlier, when not nil, gives the entry of an earlier run with the same fingerprint, so that the scan is not redone.
	Earlier func(i int, fingerprint string) (SeriesEntry, bool)
	// EarlierPhases, when not nil, gives the phases that an earlier search with the same fingerprint has found, and
	// KeepPhases takes those that a search finds; its error ends the series.
	EarlierPhases func(fingerprint string) ([]string, bool)
	KeepPhases    func(fingerprint string, ids []string) error
	// Keep, when not nil, takes the whole result of each scan that was analysed, which nothing else keeps, and notes in
	// the entry where it is. It is called from several goroutines; its error ends the series.
	Keep func(i int, r Result, e *SeriesEntry) error
	// Progress, when not nil, is told after each scan how many are done; calls do not overlap.
	Progress func(done, total int)
}

// A SeriesResult is series.json: what is tidy of every scan. Unknown quantities are null.
type SeriesResult struct {
	Schema     string        `json:"schema"`
	Fixed      bool          `json:"phases_named"` // the phases were named, not found
	Phases     []SeriesPhase `json:"phases"`
	Conditions []string      `json:"conditions"` // names of the columns of SeriesEntry.Conditions
	Numeric    []bool        `json:"conditions_numeric"`
	Abscissa   string        `json:"abscissa"` // the condition that trends are drawn against; "": the number of the scan
	Scans      []SeriesEntry `json:"scans"`
	Cautions   []xrd.Caution `json:"cautions"` // about the series; those of a scan are in its own analysis
	Provenance Provenance    `json:"provenance"`
}

// A SeriesPhase is a phase that every scan was fitted with.
type SeriesPhase struct {
	ID      string `json:"id"`
	Name    string `json:"name"`
	Formula string `json:"formula"`
}

// A SeriesEntry is one scan of a series.
type SeriesEntry struct {
	File             string        `json:"file"`
	Fingerprint      string        `json:"fingerprint"` // of the scan and of everything that steers its analysis
	Folder           string        `json:"folder"`      // of its own results, relative to that of the series; "": none
	HasReport        bool          `json:"has_report"`
	Sample           string        `json:"sample"`
	SHA256           string        `json:"sha256"`
	Error            string        `json:"error"`      // why there is no answer; "": there is one
	Conditions       []string      `json:"conditions"` // as typed; empty: unknown
	Abscissa         *float64      `json:"abscissa"`
	Radiation        string        `json:"radiation"`
	Wavelength       *float64      `json:"wavelength"`
	TwoThetaMin      *float64      `json:"two_theta_min"`
	TwoThetaMax      *float64      `json:"two_theta_max"`
	Step             *float64      `json:"step"`
	RWP              *float64      `json:"r_wp"` // fraction, not per cent
	RExp             *float64      `json:"r_exp"`
	ReducedChiSquare *float64      `json:"reduced_chi_square"`
	DisplacementMM   *float64      `json:"displacement_mm"`
	Status           string        `json:"status"` // how the fit ended
	Cautions         []string      `json:"cautions"`
	Phases           []SeriesShare `json:"phases"` // parallel to SeriesResult.Phases; empty after an error
}

// A SeriesShare is a phase in one scan. A phase that the scan does not show has no fraction, only its limit.
type SeriesShare struct {
	ID              string   `json:"id"`
	Origin          string   `json:"origin"`
	Evidence        string   `json:"evidence"` // "not detected" when it is not there
	Detected        bool     `json:"detected"`
	WeightPercent   *float64 `json:"weight_percent"`
	WeightPercentLo *float64 `json:"weight_percent_lo95"`
	WeightPercentHi *float64 `json:"weight_percent_hi95"`
	VolumePercent   *float64 `json:"volume_percent"`
	VolumePercentLo *float64 `json:"volume_percent_lo95"`
	VolumePercentHi *float64 `json:"volume_percent_hi95"`
	Original        *float64 `json:"original_weight_percent"`
	OriginalLo      *float64 `json:"original_weight_percent_lo95"`
	OriginalHi      *float64 `json:"original_weight_percent_hi95"`
	CoarseLimit     *float64 `json:"coarse_limit_weight_percent"`
	DetectionLimit  *float64 `json:"detection_limit_weight_percent"`
	CellA           *float64 `json:"cell_a"` // Å
	CellAU          *float64 `json:"cell_a_u"`
	CellB           *float64 `json:"cell_b"`
	CellBU          *float64 `json:"cell_b_u"`
	CellC           *float64 `json:"cell_c"`
	CellCU          *float64 `json:"cell_c_u"`
	SizeNM          *float64 `json:"size_nm"`
	Strain          *float64 `json:"strain"`
}

// Errors of Series; test with errors.Is.
var (
	ErrNoScans    = errors.New("no scans")
	ErrNoPhases   = errors.New("no phase was found in the scans of the series")
	ErrUnreadable = errors.New("no scan could be read")
)

// errUnexpected is a panic of one scan.
var errUnexpected = errors.New("unexpected failure")

// errStopped is the error of an entry whose turn did not come before the run ended.
var errStopped = errors.New("not analysed yet: the run was stopped")

// Done reports whether the scan has been analysed, be it with an answer or with an error of its own.
func (e SeriesEntry) Done() bool { return e.Error != errStopped.Error() }

// series is the state of one run over many scans.
type series struct {
	SeriesJob
	collection *remembered
	cancelled  func() error

	first   int // number of the scan that leads
	leading sync.Once
	led     Result // of that scan
	ledErr  error
	start   *start // from its fit

	mu   sync.Mutex
	done int
}

// Series analyses every scan with the same phases; fits start from that of the first scan. A scan that cannot be analysed is
// an entry with its error; it never stops the rest. Errors are those of the job as a whole: no scans, phases unknown or none
// found, Keep's, or the context's; with the last the result holds the scans that were finished. The outcome does not depend
// on the number of workers.
func Series(ctx context.Context, job SeriesJob) (SeriesResult, error) {
	s := &series{SeriesJob: job, collection: remember(job.Collection), cancelled: ctx.Err}
	named := len(job.Phases) > 0
	wanted := job.Phases
	if !named {
		ids, err := job.searched(ctx)
		if err != nil {
			return SeriesResult{}, err
		}
		wanted = ids
	}
	s.Phases = nil
	out := SeriesResult{Schema: SeriesSchema, Fixed: named, Phases: []SeriesPhase{}, Scans: make([]SeriesEntry, len(job.Files)), Cautions: []xrd.Caution{}}
	if len(job.Files) == 0 {
		return out, ErrNoScans
	}
	for _, id := range wanted {
		i, err := find(job.Collection, id)
		if err != nil {
			return out, err
		}
		if e := job.Collection.Entry(i); !holds(s.Phases, e.ID) {
			s.Phases = append(s.Phases, e.ID)
			out.Phases = append(out.Phases, SeriesPhase{e.ID, e.Name, e.Formula})
		}
	}
	for s.first < len(s.Files) && !s.readable(s.first) {
		s.first++
	}
	err := s.each(ctx, !named, out.Scans)
	out.attach(job.Conditions)
	out.compare()
	return out, errors.Join(err, ctx.Err())
}

// each runs the scans on as many workers as the job allows; entries lie by index, so that order never depends on timing.
func (s *series) each(ctx context.Context, searched bool, entries []SeriesEntry) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(s.workers())
	for i := range s.Files {
		g.Go(func() error {
			e, r, err := s.one(ctx, i, searched)
			if err != nil {
				if ctx.Err() != nil {
					err = errStopped
				}
				e = SeriesEntry{File: s.Files[i], Error: err.Error(), Cautions: []string{}, Phases: []SeriesShare{}}
			}
			if r != nil && s.Keep != nil {
				if err := s.Keep(i, *r, &e); err != nil {
					return err
				}
			}
			entries[i] = e
			s.report(ctx)
			return nil
		})
	}
	return g.Wait()
}

func (s *series) report(ctx context.Context) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.done++; s.Progress != nil && ctx.Err() == nil {
		s.Progress(s.done, len(s.Files))
	}
}

func (s SeriesJob) workers() int {
	if s.Workers > 0 {
		return s.Workers
	}
	return 2
}

// one analyses a scan, unless an earlier run has; the result is nil then. A panic of one scan is that scan's error.
func (s *series) one(ctx context.Context, i int, searched bool) (e SeriesEntry, r *Result, err error) {
	defer func() {
		if p := recover(); p != nil {
			e, r, err = SeriesEntry{}, nil, fmt.Errorf("%w: %v", errUnexpected, p)
		}
	}()
	if ctx.Err() != nil {
		return e, nil, errStopped
	}
	job, err := s.job(i, searched)
	if err != nil {
		return e, nil, err
	}
	mark := job.fingerprint()
	if s.Earlier != nil {
		if e, ok := s.Earlier(i, mark); ok && len(e.Phases) == len(s.Phases) {
			return e, nil, nil
		}
	}
	lead := func() { s.lead(ctx, searched) }
	var result Result
	if i == s.first {
		s.leading.Do(lead)
		result, err = s.led, s.ledErr
	} else {
		job.begin = func() *start {
			s.leading.Do(lead)
			return s.start
		}
		result, err = Run(ctx, job)
	}
	if err != nil {
		return e, nil, err
	}
	result.Document.PhaseOrder = s.Phases
	e = entryOf(result.Document, s.Phases)
	e.Fingerprint = mark
	return e, &result, nil
}

// job returns what is to be done with a scan.
func (s *series) job(i int, searched bool) (Job, error) {
	j, err := s.Load(i)
	j.Collection, j.Phases, j.Workers, j.searched, j.Depth = s.collection, s.Phases, 1, searched, Everything
	j.File = s.Files[i]
	return j, err
}
