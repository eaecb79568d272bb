package main

import (
	"io"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/series"
)

func newSeries() *cobra.Command {
	o := seriesOptions{}
	c := &cobra.Command{
		Use:   "series SCAN|FOLDER...",
		Short: "Many scans: trends, stack figure, one table",
		Long: `Analyse many scans with the same phases: those that the scans show, or those that --phase names. Every scan gets a
folder of its own under the folder of the series; beside them lie series.csv, series.parquet, series.json, series.html
and the figures. The same command again does only what is missing or has changed, so that a run may be stopped at any
time: what is done is written as tables, figures and pages then, too. --force does everything anew.`,
		Example: `  phasetally series testdata/ageing-*.xy --conditions testdata/ageing.csv --elements Cu,Sn
  phasetally series night/*.xy --phase bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite --no-figures --jobs 8`,
		Args: atLeast(1, "scans"),
	}
	o.scanFlags(c)
	o.searchFlags(c)
	o.amountFlags(c)
	f := c.Flags()
	f.StringSliceVar(&o.phases, "phase", nil, "the phases: ids, names or formulae, the same for every scan; nothing is searched")
	f.StringVar(&o.conditions, "conditions", "", "table with one row a scan: file name, then any columns (hours, temperature_C, ...)")
	f.BoolVar(&o.noFigures, "no-figures", false, "no figures and reports of the single scans, which is faster; 'phasetally figure' draws them later")
	c.RunE = func(c *cobra.Command, args []string) error {
		if o.out == "" {
			o.out = seriesFolderFor(o.conditions)
		}
		return o.series(c, args)
	}
	return c
}

// seriesOptions are the flags of the series command.
type seriesOptions struct {
	options
	conditions string
	noFigures  bool
	settings   map[string]string
	given      map[string]string
}

// series reads, runs and writes.
func (o *seriesOptions) series(c *cobra.Command, files []string) error {
	ctx, stderr := c.Context(), c.ErrOrStderr()
	started := time.Now()
	o.settings, o.given = settingsOf(c)
	files, err := o.scans(files, stderr)
	if err != nil {
		return err
	}
	lib, err := o.loadCollection(ctx, nil, stderr)
	if err != nil {
		return err
	}
	defer lib.Close()
	job, err := o.seriesJob(lib, files, stderr)
	if err != nil {
		return err
	}
	folder, err := resultfile.OpenSeries(o.out, files, o.force)
	if err != nil {
		return err
	}
	defer folder.Close()
	job.Earlier, job.EarlierPhases, job.KeepPhases = folder.Earlier, folder.EarlierPhases, folder.KeepPhases
	job.Keep = func(i int, r result.Analysis, e *result.SeriesEntry) error { return o.keep(folder, i, r, e) }
	bar := newProgress(stderr, "scans")
	if !o.quiet {
		job.Progress = bar.set
	}
	all, err := series.Run(ctx, job)
	bar.finish()
	switch done := slices.ContainsFunc(all.Scans, func(e result.SeriesEntry) bool { return !e.Stopped }); {
	case ctx.Err() != nil && !done:
		return ctx.Err()
	case err != nil && ctx.Err() == nil:
		return seriesTrouble(err)
	}
	all.Provenance = o.provenance(lib, started)
	if err := o.deliverSeries(folder, all, c.OutOrStdout(), stderr); err != nil {
		return err
	}
	return ctx.Err() // what is done is written; the status says that it is not all
}

// seriesJob is everything that steers the run; scans are read when their turn comes.
func (o *seriesOptions) seriesJob(lib *library.Library, files []string, stderr io.Writer) (series.Job, error) {
	job := series.Job{Files: files, Collection: lib, Phases: o.phases, Workers: o.jobs}
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
	return job, o.fill(&analysis.Job{}) // wrong flags are told once, not for every scan
}
