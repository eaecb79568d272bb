package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"phasetally/xrd"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/scanfile"
	"phasetally/xrd/simulate"
)

// simulation holds the flags of simulate beside those that commands share.
type simulation struct {
	job                                         simulate.Job
	sizes, strains, textures, stretches, haloes []string
	intercept                                   string
	quiet                                       bool // no noise
}

func newSimulate() *cobra.Command {
	var o options
	s := simulation{job: simulate.Job{Step: 0.02, Time: 1, Rate: 4000, Background: 20}}
	c := &cobra.Command{
		Use:   "simulate --phase ID=WT...",
		Short: "A scan of a given mixture",
		Long: `Calculate the scan of a mixture of known content with the model that fits, and write it as a scan file that describes itself
and says SIMULATED, as does every figure made from it. The count rate is that of the strongest line (113) of pure corundum on
the same diffractometer; fractions must add up to 100 wt%.`,
		Example: `  phasetally simulate --phase copper=80 --phase cu3sn-epsilon=20 --radiation Cu --out bushing-simulated.xy
  phasetally simulate --phase quartz=2 --phase silicon=98 --texture silicon=1,1,1:0.7 --displacement 0.1 --halo 4.75:7.5:60 --seed 3 > powder-simulated.xy`,
		Args: noNames,
	}
	settingsFlags(c)
	ofThisRun(c, "phase", "size", "strain", "texture", "stretch")
	o.simulationFlags(c, &s)
	checked(c, func(c *cobra.Command, _ []string) error { return o.simulated(c, &s) })
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := o.simulated(c, &s); err != nil {
			return err
		}
		scan, err := simulate.Run(s.job)
		if err != nil {
			return err
		}
		counts := scan.Expected
		if !s.quiet {
			counts = simulate.Count(counts, s.job.Seed)
		}
		return o.writeScan(c.OutOrStdout(), scan.TwoTheta, counts, s.about(&o))
	}
	return c
}

func (o *options) writeScan(stdout io.Writer, x, y []float64, about xrd.ScanInfo) error {
	scan, err := xrd.NewScan(x, y, nil, about)
	if err != nil {
		return fmt.Errorf("%w; give more --time or a higher --rate", err)
	}
	var b bytes.Buffer
	if err := scanfile.Write(&b, scan); err != nil {
		return failure{err}
	}
	if o.out != "" {
		return resultfile.WriteFile(o.out, b.Bytes())
	}
	_, err = io.Copy(stdout, strings.NewReader(b.String()))
	return err
}
