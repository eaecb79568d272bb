package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phasetally/plots"
	"phasetally/refdata/structure"
	"phasetally/xrd"
	"phasetally/xrd/calibrate"
	"phasetally/xrd/resultfile"
)

// loadInstrument returns the instrument that --instrument names, or that of an ordinary laboratory.
func (o *options) loadInstrument() (xrd.Instrument, error) {
	if o.instrument == "" {
		return xrd.DefaultInstrument(), nil
	}
	f, err := os.Open(o.instrument)
	if err != nil {
		return xrd.Instrument{}, fmt.Errorf("--instrument: %w", noFile(err))
	}
	defer f.Close()
	ins, _, err := calibrate.ReadInstrument(f, o.instrument)
	return ins, err
}

// findStandard understands a name or a CIF file.
func findStandard(name string) (calibrate.Standard, error) {
	if !strings.EqualFold(filepath.Ext(name), ".cif") {
		return calibrate.FindStandard(name)
	}
	f, err := os.Open(name)
	if err != nil {
		return calibrate.Standard{}, noFile(err)
	}
	defer f.Close()
	structures, err := structure.Read(f, name)
	if err != nil {
		return calibrate.Standard{}, err
	}
	return calibrate.FromStructure(structures[0]), nil
}

// checkInstrumentFile refuses early what could not be written later.
func (o *options) checkInstrumentFile(figure string) error {
	if err := checkFigure("--figure", figure, o.force); err != nil {
		return err
	}
	return o.checkOut(resultfile.InstrumentMark)
}

// checkOut refuses a single file that must not be replaced.
func (o *options) checkOut(mark resultfile.FileMark) error {
	if o.out == "" {
		return nil
	}
	if err := resultfile.FreeFile(o.out, mark, o.force); err != nil {
		return fmt.Errorf("--out %w", err)
	}
	return nil
}

// checkFigure refuses early a name that is no figure's, and one under which something lies that is not to be replaced.
func checkFigure(flag, name string, force bool) error {
	if name == "" {
		return nil
	}
	mark, ok := resultfile.FigureMark(name)
	if !ok {
		return fmt.Errorf("%s %q: end the name in .svg, .pdf or .png", flag, name)
	}
	if err := resultfile.FreeFile(name, mark, force); err != nil {
		return fmt.Errorf("%s %w", flag, err)
	}
	return nil
}

// saveFigure writes a figure in the format that the name ends in.
func saveFigure(name string, fig *plots.Figure) error {
	files, err := plots.Render(map[string]*plots.Figure{"figure": fig})
	if err != nil {
		return failure{err}
	}
	return resultfile.WriteFile(name, files["figure"+strings.ToLower(filepath.Ext(name))])
}

// deliverInstrument prints, writes and draws.
func (o *options) deliverInstrument(r calibrate.Result, figure string, stdout, stderr io.Writer) error {
	write := r.WriteText
	if o.format == "json" {
		write = r.WriteJSON
	}
	if !o.silent() {
		if err := write(stdout); err != nil {
			return failure{err}
		}
	}
	if figure != "" {
		fig, err := plots.Calibration(r.Shown(), plots.Style{})
		if err != nil {
			return failure{err}
		}
		if err := saveFigure(figure, fig); err != nil {
			return err
		}
	}
	if !r.Usable() {
		return needsHuman{"the calibration must not be used; see the cautions. No instrument file was written"}
	}
	if o.out == "" {
		return nil
	}
	var b bytes.Buffer
	if err := calibrate.WriteInstrument(&b, r.Instrument, r.About()); err != nil {
		return failure{err}
	}
	if err := resultfile.WriteFile(o.out, b.Bytes()); err != nil || o.quiet {
		return err
	}
	_, err := fmt.Fprintf(stderr, "The instrument is in %s\n", o.out)
	return err
}
