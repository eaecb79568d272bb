package series

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
)

// A Job is many scans to be analysed with the same phases and the same model.
type Job struct {
	Files      []string            // a name per scan; the order of the result
	Collection identify.Collection // of the phases that may be named
	Phases     []string            // ids, fixed for every scan; empty: those that the scans show, see Phases
	Conditions result.Conditions   // of the scans, by file name; the zero value has none
	Workers    int                 // scans analysed at the same time; 0 means 2
	Share      Share               // the scans that this run analyses; the zero value: all

	// Load gives scan i with its settings; what it says of collection, phases and workers is not used. It is called from
	// several goroutines, twice for a scan when phases are searched.
	Load func(i int) (analysis.Job, error)
	// Earlier, when not nil, gives the entry of an earlier run with the same fingerprint, so that the scan is not redone.
	Earlier func(i int, fingerprint string) (result.SeriesEntry, bool)
	// EarlierPhases, when not nil, gives the phases that an earlier search with the same fingerprint has found, and
	// KeepPhases takes those that a search finds and gives back those that hold, which are others when another share was
	// first; its error ends the series.
	EarlierPhases func(fingerprint string) ([]string, bool)
	KeepPhases    func(fingerprint string, ids []string) ([]string, error) // keeps what EarlierPhases gives again
	// Keep, when not nil, takes the whole result of each scan that was analysed, which nothing else keeps, and notes in
	// the entry where it is. It is called from several goroutines; its error ends the series.
	Keep func(i int, r result.Analysis, e *result.SeriesEntry) error
	// Progress, when not nil, is told after each scan how many are done; calls do not overlap.
	Progress func(done, total int)
}

// Errors of Run; test with errors.Is.
var (
	ErrNoScans    = errors.New("no scans")
	ErrNoPhases   = errors.New("no phase was found in the scans of the series")
	ErrUnreadable = errors.New("no scan could be read")
)

// errUnexpected is a panic of one scan.
var errUnexpected = errors.New("unexpected failure")

// errStopped is the error of an entry whose turn did not come before the run ended.
var errStopped = errors.New("not analysed yet: the run was stopped")

// series is the state of one run over many scans.
type series struct {
	Job
	collection *remembered
	cancelled  func() error

	first   int // number of the scan that leads
	leading sync.Once
	led     result.Analysis // of that scan
	ledErr  error
	start   *analysis.Start // from its fit

	mu   sync.Mutex
	done int
}

// Run analyses every scan with the same phases; fits start from that of the first scan. A scan that cannot be analysed is
// an entry with its error; it never stops the rest. Errors are those of the job as a whole: no scans, phases unknown or none
// found, Keep's, or the context's; with the last the result holds the scans that were finished. The outcome does not depend
// on the number of workers, nor on how the scans are shared: phases are those of the whole series, and every share starts
// from the fit of its first scan. The result of a share holds the scans of that share only.
func Run(ctx context.Context, job Job) (result.Series, error) {
	s := &series{Job: job, collection: remember(job.Collection), cancelled: ctx.Err}
	named := len(job.Phases) > 0
	wanted := job.Phases
	if !named {
		ids, err := job.searched(ctx)
		if err != nil {
			return result.Series{}, err
		}
		wanted = ids
	}
	s.Phases = nil
	out := result.Series{Schema: result.SeriesSchema, Fixed: named, Phases: []result.SeriesPhase{}, Scans: make([]result.SeriesEntry, len(job.Files)), Cautions: []xrd.Caution{}}
	if len(job.Files) == 0 {
		return out, ErrNoScans
	}
	for _, id := range wanted {
		i, err := analysis.Find(job.Collection, id)
		if err != nil {
			return out, err
		}
		if e := job.Collection.Entry(i); !holds(s.Phases, e.ID) {
			s.Phases = append(s.Phases, e.ID)
			out.Phases = append(out.Phases, result.SeriesPhase{ID: e.ID, Name: e.Name, Formula: e.Formula})
		}
	}
	for s.first < len(s.Files) && !s.readable(s.first) {
		s.first++
	}
	err := s.each(ctx, !named, out.Scans)
	out.Scans = s.Share.own(out.Scans)
	attach(&out, job.Conditions)
	summarise(&out)
	compare(&out)
	return out, errors.Join(err, ctx.Err())
}

// each runs the scans on as many workers as the job allows; entries lie by index, so that order never depends on timing.
func (s *series) each(ctx context.Context, searched bool, entries []result.SeriesEntry) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(s.workers())
	for i := range s.Files {
		if !s.Share.Holds(i) {
			continue
		}
		g.Go(func() error {
			e, r, err := s.one(ctx, i, searched)
			if err != nil {
				if ctx.Err() != nil {
					err = errStopped
				}
				e = result.SeriesEntry{File: s.Files[i], Error: strings.ReplaceAll(err.Error(), "\n", "; "), Stopped: errors.Is(err, errStopped), Cautions: []string{}, Phases: []result.SeriesShare{}}
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
		s.Progress(s.done, s.Share.size(len(s.Files)))
	}
}

func (s Job) workers() int {
	if s.Workers > 0 {
		return s.Workers
	}
	return 2
}

// one analyses a scan, unless an earlier run has; the result is nil then. A panic of one scan is that scan's error.
func (s *series) one(ctx context.Context, i int, searched bool) (e result.SeriesEntry, r *result.Analysis, err error) {
	defer func() {
		if p := recover(); p != nil {
			e, r, err = result.SeriesEntry{}, nil, fmt.Errorf("%w: %v", errUnexpected, p)
		}
	}()
	if ctx.Err() != nil {
		return e, nil, errStopped
	}
	job, err := s.job(i, searched)
	if err != nil {
		return e, nil, err
	}
	key := fingerprint(job)
	if s.Earlier != nil {
		if e, ok := s.Earlier(i, key); ok && len(e.Phases) == len(s.Phases) {
			return e, nil, nil
		}
	}
	lead := func() { s.lead(ctx, searched) }
	var whole result.Analysis
	if i == s.first {
		s.leading.Do(lead)
		whole, err = s.led, s.ledErr
	} else {
		job.Begin = func() *analysis.Start {
			s.leading.Do(lead)
			return s.start
		}
		whole, err = analysis.Run(ctx, job)
	}
	if err != nil {
		return e, nil, err
	}
	whole.Document.PhaseOrder = s.Phases
	e = entryOf(whole.Document, s.Phases)
	e.Fingerprint = key
	return e, &whole, nil
}

// job returns what is to be done with a scan.
func (s *series) job(i int, searched bool) (analysis.Job, error) {
	j, err := s.Load(i)
	j.Collection, j.Phases, j.Workers, j.Searched, j.Steps = s.collection, s.Phases, 1, searched, analysis.Everything
	j.File = s.Files[i]
	return j, err
}
