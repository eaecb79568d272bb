package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"phasetally/plots/report"
	"phasetally/xrd/analysis"
	"phasetally/xrd/identify"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

func newIdentify() *cobra.Command {
	var o options
	var at, tolerance float64
	c := &cobra.Command{
		Use:   "identify SCAN",
		Short: "Which phases a scan shows, with the evidence",
		Long: `Find the phases of a scan and say how well each is established, which lines support it and which are missing, and what
else could explain its lines. With --explain, list instead everything in the reference data that has a strong line at an angle,
as a table, JSON or CSV (--format).`,
		Example: `  phasetally identify testdata/bushing-aged.xy --elements Cu,Sn
  phasetally identify testdata/bushing-aged.xy --explain 36.4`,
		Args: oneScan,
	}
	o.scanFlags(c)
	o.searchFlags(c)
	c.Flags().Float64Var(&at, "explain", 0, "list the phases with a strong line at this angle, degrees 2θ")
	c.Flags().Float64Var(&tolerance, "within", 0.2, "how far from it a line may lie, degrees 2θ")
	checked(c, o.checkScans)
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
	jobs, err := o.readJobs(c, scan)
	if err != nil {
		return err
	}
	job := jobs[0]
	lib, err := o.loadCollection(c.Context(), &job, c.ErrOrStderr())
	if err != nil {
		return err
	}
	defer lib.Close()
	list := identify.Explain(lib, job.Filter, at, tolerance, job.Radiation.KAlpha1)
	if o.silent() {
		return nil
	}
	return printSuspects(c.OutOrStdout(), o.format, o.locale(), linesAt{"phasetally.lines-at/1", at, tolerance, list})
}

// linesAt is what --explain prints as JSON.
type linesAt struct {
	Schema   string           `json:"schema"`
	TwoTheta float64          `json:"two_theta"`
	Within   float64          `json:"within"`
	Lines    []result.Suspect `json:"lines"`
}

func printSuspects(w io.Writer, format string, l resultfile.Locale, at linesAt) error {
	switch format {
	case "json":
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		return e.Encode(at)
	case "csv":
		out := resultfile.NewTableWriter(w, l)
		out.Write([]string{"id", "name", "formula", "d_angstrom", "two_theta_deg", "intensity", "rank", "preparation", "allowed"})
		for _, s := range at.Lines {
			out.Write([]string{s.ID, s.Name, s.Formula, fmt.Sprintf("%.5f", s.D), fmt.Sprintf("%.3f", s.TwoTheta),
				fmt.Sprintf("%.2f", s.Intensity), strconv.Itoa(s.Rank), strconv.FormatBool(s.Preparation), strconv.FormatBool(s.Inside)})
		}
		return out.Flush()
	}
	return report.Suspects(w, at.TwoTheta, at.Within, at.Lines)
}
