package main

import (
	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
)

func newPeaks() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "peaks SCAN",
		Short:   "The peaks of a scan",
		Long:    "Find and fit the peaks of a scan: position, spacing, height, area, width, each with its standard uncertainty.",
		Example: "  phasetally peaks testdata/bushing-aged.xy --format csv",
		Args:    oneScan,
	}
	o.measurementFlags(c)
	checked(c, o.checkScans)
	c.RunE = func(c *cobra.Command, args []string) error {
		return o.analyse(c, args[0], analysis.PeaksOnly)
	}
	return c
}
