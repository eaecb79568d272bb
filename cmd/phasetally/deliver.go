package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"phasetally/plots/report"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

// folderFor names the result folder of a scan.
func folderFor(scan string) string {
	if scan == "-" {
		scan = "scan"
	}
	base := filepath.Base(scan)
	return strings.TrimSuffix(base, filepath.Ext(base)) + "-phases"
}

// checkOutput refuses early what could not be written later.
func (o *options) checkOutput() error {
	switch o.format {
	case "text", "json", "csv":
	default:
		return fmt.Errorf("--format %q: give text, json or csv", o.format)
	}
	if _, err := resultfile.ParseLocale(o.csvLocale); err != nil {
		return fmt.Errorf("--csv-locale %w", err)
	}
	if o.out == "" {
		return nil
	}
	return resultfile.Replaceable(o.out, o.force)
}

const csvLocaleHelp = "how CSV is written: de (decimal comma, semicolons, for German spreadsheets) or en (default)"

// locale is that of CSV; checkOutput has refused names that mean none.
func (o *options) locale() resultfile.Locale {
	l, _ := resultfile.ParseLocale(o.csvLocale)
	return l
}

// deliver prints the result and writes the folder.
func (o *options) deliver(ctx context.Context, r result.Analysis, steps analysis.Steps, stdout, stderr io.Writer) error {
	if started := r.Document.Provenance.Started; started != nil {
		s := time.Since(*started).Seconds()
		r.Document.Provenance.ElapsedS = &s
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	unwritten := keep(ctx, func() error { return o.write(r) })
	if !o.silent() { // an answer that was hours in the making is printed even where its folder cannot be written
		if err := o.print(r, steps, stdout); err != nil {
			return errors.Join(unwritten, failure{err})
		}
	}
	if o.out != "" && !o.quiet && unwritten == nil {
		fmt.Fprintf(stderr, "Figures, tables and report.html are in %s\n", o.out)
	}
	return unwritten
}

// silent tells whether the answer is not wanted on the standard output: --quiet silences words, not what a format asks for.
func (o *options) silent() bool { return o.quiet && o.format == "text" }

// write makes the folder, when one is wanted.
func (o *options) write(r result.Analysis) error {
	if o.out == "" {
		return nil
	}
	files, err := draw(r, o.others...)
	if err != nil {
		return failure{err}
	}
	return resultfile.Write(o.out, r, files, resultfile.Options{Force: o.force, CSV: o.locale()})
}

// print writes the result in the chosen format.
func (o *options) print(r result.Analysis, steps analysis.Steps, w io.Writer) error {
	switch o.format {
	case "json":
		b, err := resultfile.JSON(r.Document)
		if err != nil {
			return err
		}
		_, err = w.Write(b)
		return err
	case "csv":
		b := resultfile.FractionsCSV(r.Document)
		if steps == analysis.PeaksOnly {
			b = resultfile.PeaksCSV(r.Document)
		}
		_, err := w.Write(resultfile.Localised(b, o.locale()))
		return err
	}
	switch steps {
	case analysis.PeaksOnly:
		return report.Peaks(w, r.Document)
	case analysis.IdentifyOnly:
		return report.Evidence(w, r.Document)
	}
	return report.Text(w, r.Document)
}
