package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
)

// loadCollection opens the reference data; problems with single files are told on stderr and skipped.
func (o *options) loadCollection(ctx context.Context, job *analysis.Job, stderr io.Writer) (*library.Library, error) {
	var parts []*library.Library
	if !o.noStarter {
		parts = append(parts, library.Starter())
	}
	if len(o.libraries) > 0 {
		user, problems, err := library.FromFiles(ctx, o.libraries...)
		if err != nil && len(problems) == 1 { // the one file there is, is bad: say only why
			return nil, fmt.Errorf("--library: %s", problems[0])
		}
		for _, p := range problems {
			if !o.quiet {
				fmt.Fprintf(stderr, "phasetally: skipped: %s\n", p)
			}
		}
		if err != nil {
			return nil, fmt.Errorf("--library: %w", noFile(err))
		}
		parts = append(parts, user)
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("--no-starter leaves no reference data; add some with --library")
	}
	lib := library.Merge(parts...)
	spike, _, spiked := strings.Cut(o.spike, "=")
	named := [][]string{o.phases, o.require, o.exclude}
	if spiked {
		named = append(named, []string{spike})
	}
	for _, ids := range named {
		for _, id := range ids {
			if _, err := lib.Lookup(id); err != nil {
				return nil, err
			}
		}
	}
	if job != nil {
		o.own(lib, job)
	}
	return lib, nil
}

// own records which phases the user supplied, and where all come from.
func (o *options) own(lib *library.Library, job *analysis.Job) {
	job.Collection = lib
	job.Filter.Own = map[string]bool{}
	if len(o.libraries) > 0 {
		for i := range lib.Len() {
			if lib.FromUser(i) {
				job.Filter.Own[strings.ToLower(lib.Entry(i).ID)] = true
			}
		}
	}
	for _, s := range lib.Sources() {
		job.Provenance.ReferenceData = append(job.Provenance.ReferenceData, analysis.ReferenceFile{File: s.File, SHA256: s.SHA256, Phases: s.Phases})
	}
}
