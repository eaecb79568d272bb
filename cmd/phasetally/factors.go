package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
	"phasetally/xrd/resultfile"
)

// factorOptions are the flags of the factors command.
type factorOptions struct {
	options
	weighed   []string
	reference string
}

func newFactors() *cobra.Command {
	var o factorOptions
	c := &cobra.Command{
		Use:   "factors MIXTURE... --weighed ID=PERCENT,...",
		Short: "Correct reference intensities by mixtures that you have weighed",
		Long: `Fit one factor for each phase to scans of mixtures of known composition, with uncertainties and correlations. What is
wrong with intensities in the same way in every mixture (structures, texture of a way of filling, absorption in grains) goes
into the factors; --factors of analyse, quantify and series then corrects with them. Texture axis and displacement parameter of
a phase are the same in all of these scans. Factors hold for one tube, one set of optics and one preparation, which the table
records. Two mixtures or more show how well they hold; mixtures that contradict each
other are refused.

--weighed is given once for each scan, in their order, or once as the name of a table (CSV): the file of the scan first, then
one column a phase, wt%. Without scans, those of the table are taken, beside it.`,
		Example: `  phasetally factors mix-1.xy mix-2.xy --weighed corundum=50,zincite=50 --weighed corundum=20,zincite=80 --out factors.toml
  phasetally factors --weighed weighed.csv --slit fixed:1 --section powder --out narrow-slit.toml`,
	}
	f := c.Flags()
	f.StringVar(&o.radiation, "radiation", "", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å; default: what the scans say, else Cu")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM")
	f.StringVar(&o.geometry, "geometry", "", "reflection, or transmission through a thin specimen or capillary")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.Float64Var(&o.length, "specimen-length", 0, "length of the specimens along the beam, mm")
	f.StringVar(&o.section, "section", "", "transverse, longitudinal, rolled or powder: how all mixtures were prepared")
	f.StringVar(&o.instrument, "instrument", "", "instrument file that calibrate wrote")
	f.StringVar(&o.span, "range", "", "use only LO:HI degrees 2θ")
	f.StringArrayVar(&o.masks, "mask", nil, "leave out LO:HI degrees 2θ (repeatable)")
	f.StringSliceVar(&o.grains, "grain", nil, "diameter of the grains, MICRON or MICRON:ID (repeatable), to correct for absorption in them beforehand")
	o.collectionFlags(c)
	f.StringArrayVar(&o.weighed, "weighed", nil, "what was weighed, ID=PERCENT or ID=PERCENT±U, ... (repeatable, one a scan), or a table (CSV)")
	f.StringVar(&o.reference, "reference", "", "phase whose factor is 1 (default: that of the most mixtures)")
	f.StringVar(&o.out, "out", "", "table of factors to write (.toml)")
	f.BoolVar(&o.force, "force", false, "replace an earlier table of factors")
	f.BoolVar(&o.quiet, "quiet", false, "print nothing but errors")
	c.RunE = func(c *cobra.Command, args []string) error {
		return o.factors(c.Context(), args, c.OutOrStdout(), c.ErrOrStderr())
	}
	return c
}

// factors reads, fits and writes.
func (o *factorOptions) factors(ctx context.Context, scans []string, stdout, stderr io.Writer) error {
	if err := o.checkOut(resultfile.FactorsMark); err != nil {
		return err
	}
	rows, err := o.readWeighed(scans)
	if err != nil {
		return err
	}
	lib, err := o.loadCollection(ctx, nil, stderr)
	if err != nil {
		return err
	}
	defer lib.Close()
	mixtures, err := o.mixtures(rows, lib)
	if err != nil {
		return err
	}
	t, err := analysis.FitFactors(ctx, mixtures, o.reference)
	if err != nil {
		return blame(err)
	}
	b, err := resultfile.WriteFactors(t)
	if err != nil {
		return err
	}
	if !o.quiet {
		if _, err := stdout.Write(resultfile.FactorsText(t)); err != nil {
			return failure{err}
		}
	}
	if o.out == "" {
		return nil
	}
	if err := resultfile.WriteFile(o.out, b); err != nil || o.quiet {
		return err
	}
	_, err = fmt.Fprintf(stderr, "The factors are in %s\n", o.out)
	return err
}
