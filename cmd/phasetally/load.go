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

// loaded is a scan with the digest of its file.
type loaded struct {
	xrd.Scan
	sha256 string
}

// loadScan is the edge: a name becomes bytes, bytes become a value; from here on nobody knows about files.
func loadScan(name string) (loaded, error) {
	info, err := os.Stat(name)
	if err != nil {
		return loaded{}, noFile(err)
	}
	if info.IsDir() {
		return loaded{}, fmt.Errorf("%s: is a folder; name a scan file in it", name)
	}
	f, err := os.Open(name)
	if err != nil {
		return loaded{}, noFile(err)
	}
	defer f.Close()
	return readScan(f, name)
}

// standardInput is how a scan from there is called.
const standardInput = "standard input"

// loadSpecimen is loadScan, and takes "-" for the standard input where one scan is asked for.
func (o *options) loadSpecimen(name string) (loaded, error) {
	switch {
	case name != "-":
		return loadScan(name)
	case o.stdin == nil:
		return loaded{}, errors.New("-: the standard input is one scan; name files where several are needed")
	}
	return readScan(o.stdin, standardInput)
}

func readScan(r io.Reader, name string) (loaded, error) {
	sum := sha256.New()
	scan, err := scanfile.Read(io.TeeReader(r, sum), name)
	if err != nil {
		return loaded{}, err
	}
	return loaded{scan, hex.EncodeToString(sum.Sum(nil))}, nil
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
	var wrong troubles
	scan, err := o.loadSpecimen(name)
	wrong.note(err)
	if name == "-" {
		name = standardInput
	}
	job := analysis.Job{Measurement: analysis.Measurement{Scan: scan.Scan, File: name, SHA256: scan.sha256}}
	wrong.note(o.chooseRadiation(&job))
	job.Instrument, err = o.loadInstrument()
	wrong.note(err)
	wrong.note(o.describeInstrument(&job))
	job.Preparations, err = ownPreparations(o.preparation)
	wrong.note(err)
	wrong.note(o.loadBlank(&job))
	started := time.Now()
	job.Provenance = result.Provenance{Version: version, Command: commandLine(), Started: &started,
		ReferenceData: []result.ReferenceFile{}}
	wrong.note(o.fill(&job))
	return job, wrong.err()
}

// loadBlank reads the scan of mount and holder, which cannot be that of the specimen.
func (o *options) loadBlank(job *analysis.Job) error {
	if o.blank == "" {
		return nil
	}
	blank, err := loadScan(o.blank)
	if err != nil {
		return fmt.Errorf("--blank: %w", err)
	}
	if blank.sha256 == job.SHA256 {
		return fmt.Errorf("--blank %s: is the scan of the specimen itself; give a scan of the mount and holder without it", o.blank)
	}
	job.Blank = &blank.Scan
	return nil
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
