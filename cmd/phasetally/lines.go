package main

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/xrd"
	"phasetally/xrd/resultfile"
)

func newLines() *cobra.Command {
	var radiation, monochromator, format, locale, figure string
	var least, most, height float64
	var force bool
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
	f.StringVar(&radiation, "radiation", "Cu", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å")
	f.StringVar(&monochromator, "monochromator", "none", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&format, "format", "text", "what to print: text, json or csv")
	f.StringVar(&locale, "csv-locale", "", csvLocaleHelp)
	f.Float64Var(&least, "min", 0.1, "least intensity in the text table, strongest = 100")
	f.Float64Var(&most, "max-two-theta", 150, "lines up to this angle, degrees 2θ")
	f.Float64Var(&height, "by-height", 0, "give I/Ic by height at this FWHM, degrees 2θ, instead of by area")
	f.StringVar(&figure, "figure", "", "draw the lines as sticks into this file (.svg, .pdf or .png)")
	f.BoolVar(&force, "force", false, "replace a figure of that name")
	c.RunE = func(c *cobra.Command, args []string) error {
		csv, err := resultfile.ParseLocale(locale)
		if err != nil {
			return fmt.Errorf("--csv-locale %w", err)
		}
		r, err := xrd.ParseRadiation(radiation)
		if err != nil {
			return fmt.Errorf("--radiation: %w", err)
		}
		m, err := xrd.ParseMonochromator(monochromator, r)
		if err != nil {
			return fmt.Errorf("--monochromator: %w", err)
		}
		if !(most > 0 && most <= 175) {
			return fmt.Errorf("--max-two-theta %g: give an angle up to 175°", most)
		}
		if height != 0 && !(height >= 0.01 && height <= 2) {
			return fmt.Errorf("--by-height %g: give a width from 0.01° to 2°", height)
		}
		if err := checkFigure("--figure", figure, force); err != nil {
			return err
		}
		beam := refdata.Beam{Radiation: r, Monochromator: m, MaxTwoTheta: most}
		phases, err := phasesOf(args, beam, height)
		if err != nil {
			return err
		}
		if figure != "" {
			if err := drawSticks(figure, phases); err != nil {
				return err
			}
		}
		return printLines(c.OutOrStdout(), format, csv, beam, phases, least)
	}
	return c
}

func printLines(w io.Writer, format string, csv resultfile.Locale, beam refdata.Beam, phases []refdata.Phase, least float64) error {
	switch format {
	case "json":
		return listfile.WriteJSON(w, beam, phases)
	case "csv":
		var b bytes.Buffer
		if err := listfile.Write(&b, phases); err != nil {
			return err
		}
		_, err := w.Write(resultfile.Localised(b.Bytes(), csv))
		return err
	case "text":
		for i, p := range phases {
			if i > 0 {
				fmt.Fprintln(w)
			}
			if err := report.Lines(w, p, least); err != nil {
				return err
			}
		}
		return nil
	}
	return fmt.Errorf("--format %q: give text, json or csv", format)
}

func drawSticks(name string, phases []refdata.Phase) error {
	fig, err := plots.Sticks(phases, plots.Style{})
	if err != nil {
		return failure{err}
	}
	return saveFigure(name, fig)
}
