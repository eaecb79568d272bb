package main

import (
	"cmp"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
)

// seriesFolderFor names the folder of a series after its table of conditions.
func seriesFolderFor(conditions string) string {
	base := filepath.Base(conditions)
	return cmp.Or(strings.TrimSuffix(base, filepath.Ext(base)), "scans") + "-series"
}

// loadConditions reads the table and tells on stderr what does not fit the scans.
func (o *seriesOptions) loadConditions(files []string, stderr io.Writer) (result.Conditions, error) {
	if o.conditions == "" {
		return result.Conditions{}, nil
	}
	f, err := os.Open(o.conditions)
	if err != nil {
		return result.Conditions{}, fmt.Errorf("--conditions: %w", noFile(err))
	}
	defer f.Close()
	table, err := resultfile.ReadConditions(f, o.conditions)
	if err != nil {
		return table, err
	}
	extra, missing := table.Unmatched(files)
	if len(missing) == len(files) {
		return table, fmt.Errorf("--conditions %s: no row belongs to any of the scans; begin each row with the name of its file, as in %s", o.conditions, filepath.Base(files[0]))
	}
	if len(extra) > 0 && !o.quiet {
		fmt.Fprintf(stderr, "phasetally: %s: rows for files that are not in the series: %s\n", o.conditions, strings.Join(extra, ", "))
	}
	return table, nil
}
