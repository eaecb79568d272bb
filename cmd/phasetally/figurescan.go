package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"phasetally/plots"
	"phasetally/xrd/resultfile"
)

// style is the look and the language.
func (o figureOptions) style() (style plots.Style, err error) {
	style.Dark = o.dark
	if style.Medium, err = plots.ParseMedium(o.theme); err != nil {
		return style, fmt.Errorf("--theme: %w", err)
	}
	if o.words == "" {
		if style, err = style.In(o.language); err != nil {
			return style, fmt.Errorf("--language: %w", err)
		}
		return style, nil
	}
	f, err := os.Open(o.words)
	if err != nil {
		return style, fmt.Errorf("--words: %w", noFile(err))
	}
	defer f.Close()
	return style.ReadWords(f, o.words)
}

// scanFigure redraws a figure of one scan.
func (o figureOptions) scanFigure(folder string, style plots.Style, pattern plots.PatternOptions) (*plots.Figure, error) {
	r, err := resultfile.Read(folder)
	if err != nil {
		return nil, err
	}
	switch o.kind {
	case "fractions":
		return plots.Fractions(r.Document, style)
	case "budget":
		return plots.Budget(r.Document, style)
	case "evidence":
		f, err := plots.Evidence(r.Document, o.phase, style)
		if errors.Is(err, plots.ErrNoPhase) {
			var ids []string
			for _, p := range r.Document.Phases {
				ids = append(ids, p.ID)
			}
			return nil, fmt.Errorf("--phase: %w; it has %s", err, strings.Join(ids, ", "))
		}
		return f, err
	}
	f, err := plots.Pattern(r, style, pattern)
	if errors.Is(err, plots.ErrNoPoints) {
		return nil, fmt.Errorf("--range: %w; the scan goes from %g° to %g°", err, r.Document.Scan.TwoThetaMin, r.Document.Scan.TwoThetaMax)
	}
	if errors.Is(err, plots.ErrInsets) {
		return nil, fmt.Errorf("--inset: %w", err)
	}
	return f, err
}
