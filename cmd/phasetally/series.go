package main

import (
	"slices"
	"time"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/xrd/result"
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
time: what is done is written as tables and pages then, too. --force does everything anew.

On a cluster, --share K/N does the K-th of N equal parts into the same folder on a shared disk; any number of shares run
at once, each started by the batch system with the same command but for K. Shares need nothing of each other but the
disk: share 1 decides the phases and the others wait for its decision (ten minutes at most; then each searches, and the
decision that is written first holds for all). A share that was killed is started again with the same command. The
command without --share, when the shares are done, gathers: it does what is missing and writes tables, figures and page.`,
		Example: `  phasetally series testdata/ageing-*.xy --conditions testdata/ageing.csv --elements Cu,Sn
  phasetally series night/*.xy --phase bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite --no-figures --jobs 8
  phasetally series night/ --elements Cu,Sn --out night-series --share 1/2`,
		Args: atLeast(1, "scans"),
	}
	o.scanFlags(c)
	o.searchFlags(c)
	o.amountFlags(c)
	f := c.Flags()
	f.StringSliceVar(&o.phases, "phase", nil, "the phases: ids, names or formulae, the same for every scan; nothing is searched")
	f.StringVar(&o.conditions, "conditions", "", "table with one row a scan: file name, then any columns (hours, temperature_C, ...)")
	f.BoolVar(&o.noFigures, "no-figures", false, "no figures and reports of the single scans, which is faster; 'phasetally figure' draws them later")
	f.StringVar(&o.shareText, "share", "", "do only the K-th of N equal parts of the scans, K/N, beside other shares; without it the command gathers what they did")
	checked(c, func(*cobra.Command, []string) error { return o.check() })
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
	shareText  string
	share      series.Share
	settings   map[string]string
	given      map[string]string
}

// series reads, runs and writes.
func (o *seriesOptions) series(c *cobra.Command, files []string) error {
	ctx, stderr := c.Context(), c.ErrOrStderr()
	started := time.Now()
	o.settings, o.given = settingsOf(c)
	if err := o.check(); err != nil {
		return err
	}
	files, err := o.scans(files, stderr)
	if err != nil {
		return err
	}
	lib, err := o.loadCollection(ctx, nil, stderr)
	if err != nil {
		return err
	}
	defer lib.Close()
	spareMemory()
	job, err := o.seriesJob(lib, files, stderr)
	if err != nil {
		return err
	}
	return keep(ctx, func() error { return o.runSeries(c, job, lib, started) }) // interrupted, it ends with what is done
}

// runSeries analyses and writes.
func (o *seriesOptions) runSeries(c *cobra.Command, job series.Job, lib *library.Library, started time.Time) error {
	ctx, stderr := c.Context(), c.ErrOrStderr()
	folder, err := o.openFolder(job.Files)
	if err != nil {
		return err
	}
	defer folder.Close()
	folder.CSV = o.locale()
	job.Earlier, job.EarlierPhases, job.KeepPhases = folder.Earlier, o.decided(ctx, folder, stderr), folder.KeepPhases
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
	if o.share.Of > 0 {
		o.tellShare(all, stderr)
		return ctx.Err()
	}
	all.Provenance = o.provenance(lib, started)
	if err := o.deliverSeries(ctx, folder, all, c.OutOrStdout(), stderr); err != nil {
		return err
	}
	return ctx.Err() // what is done is written; the status says that it is not all
}
