package main

import (
	"bytes"
	"fmt"
	"io"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/refdata/listfile"
	"phasetally/xrd/resultfile"
)

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
	}
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

func drawSticks(name string, phases []refdata.Phase) error {
	fig, err := plots.Sticks(phases, plots.Style{})
	if err != nil {
		return failure{err}
	}
	return saveFigure(name, fig)
}
