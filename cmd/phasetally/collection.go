package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

// loadCollection opens the reference data; problems with single files are told on stderr and skipped.
func (o *options) loadCollection(ctx context.Context, job *analysis.Job, stderr io.Writer) (*library.Library, error) {
	lib, err := o.openCollection(ctx, stderr)
	if err != nil {
		return nil, err
	}
	if err := o.useCollection(lib, job); err != nil {
		return nil, errors.Join(err, lib.Close())
	}
	return lib, nil
}

// useCollection checks what the flags say of the phases of a collection, and gives it to a job unless that is nil.
func (o *options) useCollection(lib *library.Library, job *analysis.Job) error {
	if err := o.checkIDs(lib); err != nil || job == nil {
		return err
	}
	o.own(lib, job)
	return o.name(job)
}

// openCollection reads the reference data.
func (o *options) openCollection(ctx context.Context, stderr io.Writer) (*library.Library, error) {
	var parts []*library.Library
	if !o.noStarter {
		parts = append(parts, library.Starter())
	}
	if len(o.libraries) > 0 {
		user, problems, err := library.FromFilesTold(ctx, o.reading, o.libraries...)
		if err != nil && len(problems) == 1 { // the one file there is, is bad: say only why
			return nil, fmt.Errorf("--library: %s", problems[0])
		}
		if !o.quiet {
			tellProblems(stderr, problems)
		}
		if err != nil {
			return nil, fmt.Errorf("--library: %w", noFile(err))
		}
		parts = append(parts, user)
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("--no-starter leaves no reference data; add some with --library")
	}
	return library.Merge(parts...), nil
}

// checkIDs refuses names that no phase has, and phases that are wanted and unwanted at once.
func (o *options) checkIDs(lib *library.Library) error {
	if err := o.useIDs(lib); err != nil {
		return err
	}
	for _, id := range o.solutions {
		if i, ok := lib.Find(id); ok {
			lib.DeclareSolidSolution(i)
		}
	}
	wanted := slices.Concat(o.phases, o.require)
	if spike, _, given := strings.Cut(o.spike, "="); given {
		wanted = append(wanted, spike)
	}
	for _, id := range wanted {
		if slices.Contains(o.exclude, id) {
			return fmt.Errorf("--exclude %s: the phase is also named as one that is there; drop one of the two", id)
		}
	}
	return nil
}

// own records which phases of the watch-list the user supplied, and where all come from.
func (o *options) own(lib *library.Library, job *analysis.Job) {
	job.Collection = lib
	job.Filter.Own = map[string]bool{}
	if len(o.libraries) > 0 {
		for i := range lib.Len() {
			if e := lib.Entry(i); e.Preparation != "" && lib.FromUser(i) {
				job.Filter.Own[strings.ToLower(e.ID)] = true
			}
		}
	}
	for _, s := range lib.Sources() {
		job.Provenance.ReferenceData = append(job.Provenance.ReferenceData, result.ReferenceFile{File: s.File, SHA256: s.SHA256, Phases: s.Phases})
	}
}
