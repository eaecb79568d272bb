package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
)

// loadScan is the edge: a name becomes bytes, bytes become a value; from here on nobody knows about files.
func loadScan(name string) (xrd.Scan, string, error) {
	info, err := os.Stat(name)
	if err != nil {
		return xrd.Scan{}, "", noFile(err)
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

// noFile says which file cannot be had, without the name of the system call.
func noFile(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		return fmt.Errorf("%s: %w; check the name", path.Path, path.Err)
	}
	return err
}

// newJob reads the scan and what the flags say of it.
func (o *options) newJob(name string) (analysis.Job, error) {
	scan, sum, err := loadScan(name)
	if err != nil {
		return analysis.Job{}, err
	}
	job := analysis.Job{Measurement: analysis.Measurement{Scan: scan, File: name, SHA256: sum}}
	if err := o.chooseRadiation(&job); err != nil {
		return job, err
	}
	if job.Instrument, err = o.loadInstrument(); err != nil {
		return job, err
	}
	if err := o.describeInstrument(&job); err != nil {
		return job, err
	}
	if job.Preparations, err = ownPreparations(o.preparation); err != nil {
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
	job.Provenance = result.Provenance{Version: version, Command: commandLine(), Started: &started,
		ReferenceData: []result.ReferenceFile{}}
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
