package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/scanfile"
)

// loadScan is the edge: a name becomes bytes, bytes become a value; from here on nobody knows about files.
func loadScan(name string) (xrd.Scan, string, error) {
	info, err := os.Stat(name)
	if err != nil {
		return xrd.Scan{}, "", fmt.Errorf("%w; check the name", err)
	}
	if info.IsDir() {
		return xrd.Scan{}, "", fmt.Errorf("%s: is a folder; name a scan file in it", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return xrd.Scan{}, "", err
	}
	defer f.Close()
	sum := sha256.New()
	scan, err := scanfile.Read(io.TeeReader(f, sum), name)
	if err != nil {
		return xrd.Scan{}, "", err
	}
	return scan, hex.EncodeToString(sum.Sum(nil)), nil
}

// newJob reads the scan and what the flags say of it.
func (o *options) newJob(name string) (analysis.Job, error) {
	scan, sum, err := loadScan(name)
	if err != nil {
		return analysis.Job{}, err
	}
	job := analysis.Job{Scan: scan, File: name, SHA256: sum}
	if err := o.chooseRadiation(&job); err != nil {
		return job, err
	}
	if job.Instrument, err = o.loadInstrument(); err != nil {
		return job, err
	}
	if err := o.describeInstrument(&job); err != nil {
		return job, err
	}
	if o.blank != "" {
		blank, _, err := loadScan(o.blank)
		if err != nil {
			return job, err
		}
		job.Blank = &blank
	}
	started := time.Now()
	job.Provenance = analysis.Provenance{Version: version, Command: strings.Join(os.Args, " "), Started: &started,
		ReferenceData: []analysis.ReferenceFile{}}
	return job, o.fill(&job)
}

func (o *options) chooseRadiation(job *analysis.Job) error {
	switch {
	case o.radiation != "":
		r, err := xrd.ParseRadiation(o.radiation)
		if err != nil {
			return fmt.Errorf("--radiation: %w", err)
		}
		job.Radiation = r
	case job.Scan.About.Radiation != nil:
		job.Radiation = *job.Scan.About.Radiation
	default:
		job.Radiation, _ = xrd.ParseRadiation("Cu")
		job.RadiationAssumed = true
	}
	return nil
}

// loadCollection opens the reference data; problems with single files are told on stderr and skipped.
func (o *options) loadCollection(ctx context.Context, job *analysis.Job, stderr io.Writer) (*library.Library, error) {
	var parts []*library.Library
	if !o.noStarter {
		parts = append(parts, library.Starter())
	}
	if len(o.libraries) > 0 {
		user, problems, err := library.FromFiles(ctx, o.libraries...)
		for _, p := range problems {
			if !o.quiet {
				fmt.Fprintf(stderr, "phasetally: skipped: %s\n", p)
			}
		}
		if err != nil {
			return nil, fmt.Errorf("--library: %w", err)
		}
		parts = append(parts, user)
	}
	if len(parts) == 0 {
		return nil, fmt.Errorf("--no-starter leaves no reference data; add some with --library")
	}
	lib := library.Merge(parts...)
	for _, ids := range [][]string{o.phases, o.require, o.exclude} {
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
