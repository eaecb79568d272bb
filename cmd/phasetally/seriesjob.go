package main

import (
	"io"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/series"
)

// seriesJob is everything that steers the run; scans are read when their turn comes.
func (o *seriesOptions) seriesJob(lib *library.Library, files []string, stderr io.Writer) (series.Job, error) {
	job := series.Job{Files: files, Collection: lib, Phases: o.phases, Workers: o.jobs, Share: o.share}
	var shared analysis.Job // its reference data are those of every scan
	o.own(lib, &shared)
	table, err := o.loadConditions(files, stderr)
	if err != nil {
		return job, err
	}
	job.Conditions = table
	job.Load = func(i int) (analysis.Job, error) {
		j, err := o.newJob(files[i])
		if err == nil {
			err = o.interceptsOf(&j, table, files[i])
		}
		j.Provenance.Settings, j.Provenance.Given, j.Provenance.ReferenceData = o.settings, o.given, shared.Provenance.ReferenceData
		j.Collection, j.Filter.Own = lib, shared.Filter.Own
		return j, err
	}
	return job, nil
}

// check tells once, not for every scan, what is wrong with the flags.
func (o *seriesOptions) check() error {
	var wrong troubles
	var any analysis.Job
	wrong.note(o.parseShare())
	wrong.note(o.checkFormat())
	wrong.note(o.chooseRadiation(&any))
	wrong.note(o.describeInstrument(&any))
	wrong.note(o.fill(&any))
	if len(wrong) > 0 {
		return o.withNames(wrong.err())
	}
	return nil
}
