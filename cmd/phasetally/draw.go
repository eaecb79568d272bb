package main

import (
	"fmt"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
)

// draw makes every figure and the report; other scans of the specimen get their own pattern-2, pattern-3 …
func draw(r result.Analysis, others ...result.Analysis) (map[string][]byte, error) {
	figures := map[string]*plots.Figure{}
	var err error
	if figures["pattern"], err = plots.Pattern(r, plots.Style{}, plots.PatternOptions{}); err != nil {
		return nil, err
	}
	if figures["fractions"], err = plots.Fractions(r.Document, plots.Style{}); err != nil {
		return nil, err
	}
	for i, other := range others {
		if figures[fmt.Sprintf("pattern-%d", i+2)], err = plots.Pattern(other, plots.Style{}, plots.PatternOptions{}); err != nil {
			return nil, err
		}
	}
	files, err := plots.Render(figures)
	if err != nil {
		return nil, err
	}
	page, err := report.HTML(r, report.Options{Pattern: figures["pattern"]})
	if err != nil {
		return nil, err
	}
	files["report.html"], files["references.bib"] = page, report.BibTeX(r.Document)
	return files, nil
}
