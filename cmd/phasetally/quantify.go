package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

func newQuantify() *cobra.Command {
	var o options
	same := false
	c := &cobra.Command{
		Use:   "quantify SCAN… --phase ID",
		Short: "Fractions of named phases, without a search",
		Long: `Fit the named phases to a scan and give their fractions. A phase that is not there gets its detection limit.

Several scans of one specimen, a longitudinal and a transverse section or the same powder mounted anew, give one set of
fractions with --same-specimen; what they differ by is part of the uncertainty.`,
		Example: `  phasetally quantify testdata/bushing-aged.xy --phase bronze-alpha,cu3sn-epsilon,cu6sn5-eta,cuprite
  phasetally quantify longitudinal.xy transverse.xy --same-specimen --phase copper,cu3sn-epsilon
  phasetally quantify powder.xy --phase quartz,fluorite --k-standard corundum.xy=corundum --composition Si=30.4,O=34.6,Ca=18,F=17`,
		Args: atLeast(1, "scan"),
	}
	o.scanFlags(c)
	o.collectionFlags(c)
	o.amountFlags(c)
	c.Flags().StringSliceVar(&o.phases, "phase", nil, "the phases: ids, names or formulae (repeatable)")
	c.Flags().BoolVar(&same, "same-specimen", false, "all scans are of one specimen: give one set of fractions")
	suits := func(scans []string) error {
		switch {
		case len(o.phases) == 0:
			return fmt.Errorf("name the phases with --phase; 'phasetally library list' shows what there is")
		case same != (len(scans) > 1):
			return errors.New("several scans of one specimen need --same-specimen, and it needs several; 'phasetally series' takes scans of different ones")
		}
		return nil
	}
	checked(c, func(c *cobra.Command, scans []string) error {
		var wrong troubles
		wrong.note(suits(scans))
		wrong.note(o.checkScans(c, scans))
		return wrong.err()
	})
	c.RunE = func(c *cobra.Command, args []string) error {
		switch err := suits(args); {
		case err != nil:
			return err
		case same:
			return o.quantifySame(c, args)
		}
		return o.analyse(c, args[0], analysis.Everything)
	}
	return c
}

// quantifySame reads all scans, runs them as one specimen and delivers the joint answer.
func (o *options) quantifySame(c *cobra.Command, scans []string) error {
	ctx, stdout, stderr := c.Context(), c.OutOrStdout(), c.ErrOrStderr()
	if a, b, found := twice(scans); found {
		return fmt.Errorf("%s and %s are the same scan, which says nothing twice; give scans that were measured apart", a, b)
	}
	jobs, err := o.readJobs(c, scans...)
	if err != nil {
		return err
	}
	results, err := o.runSame(ctx, jobs, stderr)
	if err != nil {
		return err
	}
	o.others = results[1:]
	if err := o.deliver(ctx, results[0], analysis.Everything, stdout, stderr); err != nil {
		return err
	}
	return verdict(results[0].Document, analysis.Everything)
}

// runSame opens the reference data once for all scans.
func (o *options) runSame(ctx context.Context, jobs []analysis.Job, stderr io.Writer) ([]result.Analysis, error) {
	line := o.newStanding(ctx, stderr)
	defer line.end()
	o.reading = line.reading
	lib, err := o.loadCollection(ctx, &jobs[0], stderr)
	if err != nil {
		return nil, err
	}
	defer lib.Close()
	jobs[0].Progress = line.tell
	for i := range jobs[1:] {
		jobs[i+1].Progress = line.tell
		jobs[i+1].Collection, jobs[i+1].Filter.Own = jobs[0].Collection, jobs[0].Filter.Own
		if err := o.name(&jobs[i+1]); err != nil {
			return nil, err
		}
	}
	results, err := analysis.RunSame(ctx, jobs)
	if errors.Is(err, analysis.ErrNothingLeft) {
		return nil, fmt.Errorf("%w; widen --range or drop a --mask", err)
	}
	return results, blame(err)
}
