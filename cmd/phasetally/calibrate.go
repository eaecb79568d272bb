package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"phasetally/xrd/analysis"
	"phasetally/xrd/calibrate"
)

func newCalibrate() *cobra.Command {
	var o options
	var standard, figure string
	c := &cobra.Command{
		Use:   "calibrate SCAN --standard ID",
		Short: "The diffractometer from the scan of a standard",
		Long: `Fit zero, displacement, widths and axial divergence to the scan of a standard, whose certified cell is held, and write
them as an instrument file that every other command takes with --instrument. Size and strain broadening of the
standard are taken as zero.`,
		Example: "  phasetally calibrate silicon.xy --standard silicon --out instrument.toml --figure instrument.svg",
		Args:    oneScan,
	}
	settingsFlags(c)
	f := c.Flags()
	f.StringVar(&o.radiation, "radiation", "", "tube (Cr, Fe, Co, Cu, Mo, Ag) or wavelengths in Å; default: what the scan says, else Cu")
	f.StringVar(&o.monochromator, "monochromator", "", "none, graphite, or the crystal's angle in degrees 2θ")
	f.StringVar(&o.slit, "slit", "", "divergence slit: fixed:DEGREES or automatic:MM, for the record")
	f.Float64Var(&o.radius, "radius", 0, "goniometer radius, mm (default 200)")
	f.StringVar(&o.instrument, "instrument", "", "earlier instrument file to start from")
	f.StringVar(&standard, "standard", "", "silicon, lanthanum-hexaboride, corundum, ceria, an issue such as 640d, or a CIF file")
	f.StringVar(&o.span, "range", "", "use only LO:HI degrees 2θ")
	f.StringVar(&o.out, "out", "", "instrument file to write (.toml)")
	f.BoolVar(&o.force, "force", false, "replace an instrument file and a figure of an earlier run")
	f.StringVar(&figure, "figure", "", "draw FWHM and Δ2θ against 2θ into this file (.svg, .pdf or .png)")
	f.StringVar(&o.format, "format", "text", "what to print: text or json")
	f.BoolVar(&o.quiet, "quiet", false, "print nothing but errors, and JSON that --format asks for")
	checked(c, func(c *cobra.Command, args []string) error {
		_, err := o.calibration(c, args[0], standard, figure)
		return err
	})
	c.RunE = func(c *cobra.Command, args []string) error {
		job, err := o.calibration(c, args[0], standard, figure)
		if err != nil {
			return err
		}
		r, err := calibrate.Run(c.Context(), job)
		switch {
		case errors.Is(err, calibrate.ErrNotStandard):
			return needsHuman{err.Error()}
		case errors.Is(err, calibrate.ErrNothingLeft):
			return err
		case err != nil:
			return failure{err}
		}
		return o.deliverInstrument(r, figure, c.OutOrStdout(), c.ErrOrStderr())
	}
	return c
}

// calibration reads the scan and the standard.
func (o *options) calibration(c *cobra.Command, scan, standard, figure string) (calibrate.Job, error) {
	var wrong troubles
	wrong.note(textOrJSON(o.format))
	wrong.note(o.checkInstrumentFile(figure))
	o.stdin = c.InOrStdin()
	std, err := findStandard(standard)
	if err != nil {
		wrong.note(fmt.Errorf("--standard: %w", err))
	}
	read, err := o.loadSpecimen(scan)
	wrong.note(err)
	j := analysis.Job{Measurement: analysis.Measurement{Scan: read.Scan, File: scan}}
	wrong.note(o.chooseRadiation(&j))
	j.Instrument, err = o.loadInstrument()
	wrong.note(err)
	wrong.note(o.describeInstrument(&j))
	if o.span != "" {
		j.Range, err = parseRange("--range", o.span)
		wrong.note(err)
	}
	return calibrate.Job{Scan: j.Scan, File: filepath.Base(scan), Radiation: j.Radiation, RadiationAssumed: j.RadiationAssumed,
		Instrument: j.Instrument, Standard: std, Range: j.Range}, wrong.err()
}
