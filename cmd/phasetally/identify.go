package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
)

func newIdentify() *cobra.Command {
	var o options
	var at, tolerance float64
	c := &cobra.Command{
		Use:   "identify SCAN",
		Short: "Which phases a scan shows, with the evidence",
		Long: `Find the phases of a scan and say how well each is established, which lines support it and which are missing, and what
else could explain its lines. With --explain, list instead everything in the reference data that has a strong line at an angle.`,
		Example: `  phasetally identify testdata/bushing-aged.xy --elements Cu,Sn
  phasetally identify testdata/bushing-aged.xy --explain 36.4`,
		Args: oneScan,
	}
	o.scanFlags(c)
	o.searchFlags(c)
	c.Flags().Float64Var(&at, "explain", 0, "list the phases with a strong line at this angle, degrees 2θ")
	c.Flags().Float64Var(&tolerance, "within", 0.2, "how far from it a line may lie, degrees 2θ")
	c.RunE = func(c *cobra.Command, args []string) error {
		if c.Flags().Changed("explain") {
			return o.explain(c, args[0], at, tolerance)
		}
		return o.analyse(c, args[0], analysis.IdentifyOnly)
	}
	return c
}

// explain prints which phases have a line at an angle for the radiation of a scan.
func (o *options) explain(c *cobra.Command, scan string, at, tolerance float64) error {
	if !(at > 0 && at < 180) || !(tolerance > 0 && tolerance < at && at+tolerance < 180) {
		return fmt.Errorf("--explain %g --within %g: give an angle between 0 and 180° 2θ and a smaller tolerance", at, tolerance)
	}
	job, err := o.newJob(scan)
	if err != nil {
		return err
	}
	lib, err := o.loadCollection(c.Context(), &job, c.ErrOrStderr())
	if err != nil {
		return err
	}
	defer lib.Close()
	list := identify.Explain(lib, job.Filter, at, tolerance, job.Radiation.KAlpha1)
	if o.quiet {
		return nil
	}
	return printSuspects(c.OutOrStdout(), o.format, at, tolerance, list)
}

func printSuspects(w io.Writer, format string, at, tolerance float64, list []identify.Suspect) error {
	if format != "text" {
		return fmt.Errorf("--explain prints text only; leave --format %s out", format)
	}
	return report.Suspects(w, at, tolerance, list)
}
