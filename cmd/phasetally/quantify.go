package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
)

func newQuantify() *cobra.Command {
	var o options
	c := &cobra.Command{
		Use:     "quantify SCAN --phase ID",
		Short:   "Fractions of named phases, without a search",
		Long:    "Fit the named phases to a scan and give their fractions. A phase that is not there gets its detection limit.",
		Example: "  phasetally quantify testdata/bushing-aged.xy --phase copper,cu3sn-epsilon,cu6sn5-eta",
		Args:    oneScan,
	}
	o.scanFlags(c)
	o.collectionFlags(c)
	o.amountFlags(c)
	c.Flags().StringSliceVar(&o.phases, "phase", nil, "ids of the phases (repeatable)")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(o.phases) == 0 {
			return fmt.Errorf("name the phases with --phase; 'phasetally library list' shows what there is")
		}
		return o.analyse(c, args[0], analysis.Everything)
	}
	return c
}
