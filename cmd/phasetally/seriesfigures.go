package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

// The kinds of figures, of a scan's folder and of a series'.
var (
	scanKinds   = []string{"pattern", "fractions", "evidence", "budget"}
	seriesKinds = []string{"trend", "stack", "difference"}
)

// oneFolder asks for exactly one folder.
func oneFolder(c *cobra.Command, args []string) error {
	if len(args) == 1 {
		return nil
	}
	return fmt.Errorf("%d folders given, one is needed; '%s --help' shows an example", len(args), c.CommandPath())
}

// drawSeries makes the figures of the whole that its scans allow; read gives the result of a scan back.
func drawSeries(s result.Series, read func(i int) (result.Analysis, error), style plots.Style, o plots.StackOptions) (map[string]*plots.Figure, error) {
	var done []int
	for i, e := range s.Scans {
		if e.Error == "" {
			done = append(done, i)
		}
	}
	var traces []plots.Trace
	for _, k := range plots.Spread(len(done)) {
		r, err := read(done[k])
		if err != nil {
			return nil, err
		}
		traces = append(traces, plots.Trace{Name: report.TraceName(s, s.Scans[done[k]]), Result: r})
	}
	o.Total, o.Order = len(done), s.Phases
	figures := map[string]*plots.Figure{}
	for name, draw := range map[string]func() (*plots.Figure, error){
		"trend":      func() (*plots.Figure, error) { return plots.Trend(s, style) },
		"stack":      func() (*plots.Figure, error) { return plots.Stack(traces, style, o) },
		"difference": func() (*plots.Figure, error) { return plots.Difference(traces, style, o) },
	} {
		f, err := draw()
		switch {
		case errors.Is(err, plots.ErrNoPoints): // nothing to draw is no failure of the series
		case err != nil:
			return nil, err
		default:
			figures[name] = f
		}
	}
	return figures, nil
}

// seriesFigure redraws a figure of a series folder.
func (o figureOptions) seriesFigure(folder string, style plots.Style, pattern plots.PatternOptions) (*plots.Figure, error) {
	s, err := resultfile.ReadSeries(folder)
	if err != nil {
		return nil, err
	}
	read := func(i int) (result.Analysis, error) {
		return resultfile.Read(filepath.Join(folder, filepath.FromSlash(s.Scans[i].Folder)))
	}
	figures, err := drawSeries(s, read, style, plots.StackOptions{Lo: pattern.Lo, Hi: pattern.Hi})
	if err != nil {
		return nil, err
	}
	if f, ok := figures[o.kind]; ok {
		return f, nil
	}
	return nil, fmt.Errorf("%s: the scans of the series give no %s figure in this range", folder, o.kind)
}
