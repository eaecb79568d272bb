package main

import (
	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
)

func newIdentify() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "identify SCAN",
		Short:   "Which phases a scan shows, with the evidence",
		Long:    "Find the phases of a scan and say how well each is established and what else could explain its lines.",
		Example: "  phasetally identify testdata/bushing-aged.xy --elements Cu,Sn",
		Args:    oneScan,
	}
	o.scanFlags(c)
	o.searchFlags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		return o.analyse(c, args[0], analysis.IdentifyOnly)
	}
	return c
}
