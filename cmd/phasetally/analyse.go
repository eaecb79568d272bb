package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"phasetally/refdata/library"
	"phasetally/refdata/listfile"
	"phasetally/xrd/analysis"
	"phasetally/xrd/quantify"
)

func newAnalyse() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:   "analyse SCAN",
		Short: "The whole job: identify, quantify, draw, report",
		Long: `Find the phases of a scan and their fractions, print the answer, and write figures, tables and a report into
SCAN-phases/ in the present folder (or --out).`,
		Example: `  phasetally analyse testdata/bushing-aged.xy --elements Cu,Sn
  phasetally analyse powder.csv --radiation Co --library my-structures/ --spike corundum=20`,
		Args: oneScan,
	}
	o.analyseFlags(c)
	checked(c, o.checkScans)
	c.RunE = func(c *cobra.Command, args []string) error {
		if o.out == "" {
			o.out = folderFor(args[0])
		}
		return o.analyse(c, args[0], analysis.Everything)
	}
	return c
}

// analyseFlags adds all flags of the whole job.
func (o *options) analyseFlags(c *cobra.Command) {
	o.scanFlags(c)
	o.searchFlags(c)
	o.amountFlags(c)
	c.Flags().StringSliceVar(&o.phases, "phase", nil, "the phases: ids, names or formulae; nothing is searched")
}

// analyse reads, runs, prints and, when there is a folder to write, writes.
func (o *options) analyse(c *cobra.Command, scan string, steps analysis.Steps) error {
	ctx, stdout, stderr := c.Context(), c.OutOrStdout(), c.ErrOrStderr()
	jobs, err := o.readJobs(c, scan)
	if err != nil {
		return err
	}
	job := jobs[0]
	job.Steps = steps
	line := o.newStanding(ctx, stderr)
	defer line.end()
	job.Progress = line.tell
	o.reading = line.reading
	if steps != analysis.PeaksOnly {
		lib, err := o.loadCollection(ctx, &job, stderr)
		if err != nil {
			return err
		}
		defer lib.Close()
	}
	result, err := analysis.Run(ctx, job)
	line.end()
	if errors.Is(err, analysis.ErrNothingLeft) {
		return fmt.Errorf("%s: %w; widen --range or drop a --mask", scan, err)
	}
	if err != nil {
		return blame(err)
	}
	if err := o.deliver(ctx, result, steps, stdout, stderr); err != nil {
		return err
	}
	return verdict(result.Document, steps)
}

// readJobs reads the scans of a command and what its flags say of them, and tells at once all that is wrong.
func (o *options) readJobs(c *cobra.Command, scans ...string) ([]analysis.Job, error) {
	var wrong troubles
	wrong.note(o.checkOutput())
	if len(scans) == 1 {
		o.stdin = c.InOrStdin()
	}
	jobs := make([]analysis.Job, len(scans))
	for i, scan := range scans {
		job, err := o.newJob(scan)
		wrong.note(err)
		job.Provenance.Settings, job.Provenance.Given = settingsOf(c)
		jobs[i] = job
	}
	if len(wrong) > 0 {
		return nil, o.withNames(wrong.err())
	}
	return jobs, nil
}

// checkScans is what the commands that analyse scans check before they begin.
func (o *options) checkScans(c *cobra.Command, scans []string) error {
	_, err := o.readJobs(c, scans...)
	return o.withNames(err)
}

// withNames adds to what is wrong with a job the names of phases that mean none, where looking them up takes no time.
func (o *options) withNames(err error) error {
	var wrong troubles
	wrong.note(err)
	if len(o.libraries) == 0 && !o.noStarter {
		wrong.note(o.useIDs(library.Starter()))
	}
	return wrong.err()
}

// blame tells what the user can mend from a failure of ours.
func blame(err error) error {
	if err == nil || errors.Is(err, analysis.ErrUnknownPhase) || errors.Is(err, analysis.ErrMicrograph) || errors.Is(err, analysis.ErrWeighed) || errors.Is(err, quantify.ErrFactor) || errors.Is(err, quantify.ErrUnlinked) || errors.Is(err, analysis.ErrNothingLeft) || errors.Is(err, quantify.ErrStandard) || errors.Is(err, library.ErrDamaged) || errors.Is(err, listfile.ErrNoLines) {
		return err
	}
	return failure{err}
}
