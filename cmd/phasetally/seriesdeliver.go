package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/series"
)

// seriesTrouble tells the user's doing from ours.
func seriesTrouble(err error) error {
	var folder *resultfile.FolderError
	switch {
	case errors.As(err, &folder), errors.Is(err, series.ErrUnreadable), errors.Is(err, library.ErrDamaged):
		return err
	case errors.Is(err, series.ErrNoPhases):
		return needsHuman{err.Error() + "; name them with --phase, or give more elements or a larger library"}
	}
	return failure{err}
}

// checkFormat refuses a format that cannot be printed.
func (o *seriesOptions) checkFormat() error {
	plain := o.options
	plain.out = ""
	return plain.checkOutput()
}

// keep writes the folder of one scan.
func (o *seriesOptions) keep(folder *resultfile.SeriesFolder, i int, r result.Analysis, e *result.SeriesEntry) error {
	var files map[string][]byte
	if !o.noFigures {
		var err error
		if files, err = draw(r); err != nil {
			return err
		}
	}
	return folder.Keep(i, r, e, files)
}

// provenance says how the series came about.
func (o *seriesOptions) provenance(lib *library.Library, started time.Time) result.Provenance {
	elapsed := time.Since(started).Seconds()
	var job analysis.Job
	o.own(lib, &job)
	return result.Provenance{Version: version, Command: commandLine(), Settings: o.settings, Given: o.given,
		ReferenceData: job.Provenance.ReferenceData, Started: &started, ElapsedS: &elapsed}
}

// deliverSeries writes the files of the whole and prints the answer. Who has interrupted the run waits for its tables and pages, and
// not for figures.
func (o *seriesOptions) deliverSeries(ctx context.Context, folder *resultfile.SeriesFolder, s result.Series, stdout, stderr io.Writer) error {
	draw := func() (map[string]*plots.Figure, error) {
		return drawSeries(s, folder.Result, plots.Style{}, plots.StackOptions{})
	}
	if ctx.Err() != nil {
		draw = func() (map[string]*plots.Figure, error) { return nil, nil }
	}
	if err := o.writeSeries(folder, s, draw); err != nil {
		return err
	}
	return o.printSeries(s, stdout, stderr)
}

// writeSeries writes figures, tables and pages.
func (o *seriesOptions) writeSeries(folder *resultfile.SeriesFolder, s result.Series, draw func() (map[string]*plots.Figure, error)) error {
	figures, err := draw()
	if err != nil {
		return failure{err}
	}
	files, err := plots.Render(figures)
	if err != nil {
		return failure{err}
	}
	page := report.SeriesOptions{Files: append(slices.Sorted(maps.Keys(files)), "series.csv", "series-wide.csv", "series.json", "series.parquet")}
	for _, name := range []string{"trend", "stack", "difference"} {
		if f, ok := figures[name]; ok {
			page.Figures = append(page.Figures, f)
		}
	}
	if files["series.html"], err = report.SeriesHTML(s, page); err != nil {
		return failure{err}
	}
	all := map[string]resultfile.FileWriter{}
	for name, content := range files {
		all[name] = resultfile.Bytes(content)
	}
	for _, p := range report.ScanPages(s) {
		all[p.Name] = func(w io.Writer) error { return report.WriteScanPage(w, s, p) }
	}
	return folder.Finish(s, all)
}

// printSeries prints the answer in the chosen format and says where the rest is.
func (o *seriesOptions) printSeries(s result.Series, stdout, stderr io.Writer) error {
	var err error
	switch {
	case o.silent():
	case o.format == "json":
		err = resultfile.WriteSeriesJSON(stdout, s)
	case o.format == "csv":
		err = resultfile.WriteSeriesCSV(stdout, s, o.locale())
	default:
		err = report.SeriesText(stdout, s)
	}
	if err != nil {
		return failure{err}
	}
	if !o.quiet {
		fmt.Fprintf(stderr, "Figures, tables and series.html are in %s\n", o.out)
	}
	return seriesVerdict(s)
}
