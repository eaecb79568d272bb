package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"phasetally/refdata"
	"phasetally/xrd"
)

func newLines() *cobra.Command {
	var o lineOptions
	c := &cobra.Command{
		Use:   "lines CIF|ID...",
		Short: "Structure → reference lines, density, absorption, I/Ic",
		Long: `Compute the lines of crystal structures (CIF files, or ids of the starter collection) for a beam. The csv format is
that of reference lists, which every command reads back.`,
		Example: `  phasetally lines corundum
  phasetally lines my-phase.cif --radiation Co --format csv > my-phase.csv`,
		Args: atLeast(1, "CIF or id"),
	}
	f := c.Flags()
	settingsFlags(c)
	f.StringVar(&o.radiation, "radiation", "Cu", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å")
	f.StringVar(&o.monochromator, "monochromator", "none", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.format, "format", "text", "what to print: text, json or csv")
	f.StringVar(&o.csvLocale, "csv-locale", "", csvLocaleHelp)
	f.Float64Var(&o.least, "min", 0.1, "least intensity in the text table, strongest = 100")
	f.Float64Var(&o.most, "max-two-theta", 150, "lines up to this angle, degrees 2θ")
	f.Float64Var(&o.height, "by-height", 0, "give I/Ic by height at this FWHM, degrees 2θ, instead of by area")
	f.StringVar(&o.figure, "figure", "", "draw the lines as sticks into this file (.svg, .pdf or .png)")
	f.BoolVar(&o.force, "force", false, "replace a figure of that name")
	checked(c, func(*cobra.Command, []string) error {
		_, err := o.check()
		return err
	})
	c.RunE = func(c *cobra.Command, args []string) error {
		beam, err := o.check()
		if err != nil {
			return err
		}
		phases, err := phasesOf(args, beam, o.height)
		if err != nil {
			return err
		}
		if o.figure != "" {
			if err := drawSticks(o.figure, phases); err != nil {
				return err
			}
		}
		return printLines(c.OutOrStdout(), o.format, o.locale(), beam, phases, o.least)
	}
	return c
}

// lineOptions are the flags of lines.
type lineOptions struct {
	options
	figure              string
	least, most, height float64
}

// check looks at the flags before anything is read.
func (o *lineOptions) check() (refdata.Beam, error) {
	var wrong troubles
	wrong.note(o.checkOutput())
	r, err := xrd.ParseRadiation(o.radiation)
	if err != nil {
		wrong.note(fmt.Errorf("--radiation: %w", err))
	}
	m, err := xrd.ParseMonochromator(o.monochromator, r)
	if err != nil {
		wrong.note(fmt.Errorf("--monochromator: %w", err))
	}
	if !(o.least >= 0 && o.least <= 100) {
		wrong.note(fmt.Errorf("--min %g: give an intensity from 0 to 100", o.least))
	}
	if !(o.most > 0 && o.most <= 175) {
		wrong.note(fmt.Errorf("--max-two-theta %g: give an angle up to 175°", o.most))
	}
	if o.height != 0 && !(o.height >= 0.01 && o.height <= 2) {
		wrong.note(fmt.Errorf("--by-height %g: give a width from 0.01° to 2°", o.height))
	}
	wrong.note(checkFigure("--figure", o.figure, o.force))
	return refdata.Beam{Radiation: r, Monochromator: m, MaxTwoTheta: o.most}, wrong.err()
}
