package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/resultfile"
)

// A weighedRow is the file of a mixture with what was weighed.
type weighedRow struct {
	file    string
	amounts []analysis.WeighedAmount
}

// readWeighed joins scans with what was weighed, from flags or a table.
func (o *factorOptions) readWeighed(scans []string) ([]weighedRow, error) {
	if len(o.weighed) == 0 {
		return nil, errors.New("say with --weighed what was weighed, as in --weighed corundum=50,zincite=50, or name a table (CSV)")
	}
	if a, b, found := twice(scans); found {
		return nil, fmt.Errorf("%s and %s are the same scan, which says nothing twice; give scans that were measured apart", a, b)
	}
	if len(o.weighed) == 1 && !strings.Contains(o.weighed[0], "=") {
		return weighedTable(o.weighed[0], scans)
	}
	if len(o.weighed) != len(scans) {
		return nil, fmt.Errorf("--weighed is given %d times for %d scans; give it once for each scan, in their order, or once as a table (CSV)", len(o.weighed), len(scans))
	}
	var rows []weighedRow
	for i, s := range o.weighed {
		row := weighedRow{file: scans[i]}
		for part := range strings.SplitSeq(s, ",") {
			id, percent, ok := strings.Cut(part, "=")
			a, err := weighedAmount(id, percent)
			if !ok || err != nil {
				return nil, fmt.Errorf("--weighed %q: give ID=PERCENT, as in --weighed corundum=50,zincite=50", part)
			}
			row.amounts = append(row.amounts, a)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// weighedTable reads a table of weighed mixtures; without scans, those that it names beside it.
func weighedTable(name string, scans []string) ([]weighedRow, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("--weighed: %w", noFile(err))
	}
	defer f.Close()
	table, err := resultfile.ReadConditions(f, name)
	if err != nil {
		return nil, err
	}
	if len(scans) == 0 {
		for file := range table.Rows {
			scans = append(scans, filepath.Join(filepath.Dir(name), file))
		}
		slices.Sort(scans)
	}
	var rows []weighedRow
	for _, scan := range scans {
		cells := table.Of(scan)
		if cells == nil {
			return nil, fmt.Errorf("--weighed %s: no row for %s; begin a row with the name of its file", name, scan)
		}
		row := weighedRow{file: scan}
		for i, cell := range cells {
			a, err := weighedAmount(table.Columns[i], cell)
			if err != nil {
				return nil, fmt.Errorf("--weighed %s: %s has %q as wt%% of %s; give a number, 0 for a phase that is not in it", name, filepath.Base(scan), cell, table.Columns[i])
			}
			row.amounts = append(row.amounts, a)
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// weighedAmount understands an amount with or without its uncertainty.
func weighedAmount(id, percent string) (analysis.WeighedAmount, error) {
	v, u, err := xrd.ParseUncertain(percent)
	if err == nil && strings.TrimSpace(id) == "" {
		err = errors.New("no phase")
	}
	return analysis.WeighedAmount{ID: strings.TrimSpace(id), Percent: v, U: u}, err
}

// mixtures turns rows into jobs with the ids of their phases.
func (o *factorOptions) mixtures(rows []weighedRow, lib *library.Library) ([]analysis.Mixture, error) {
	var wrong troubles
	if o.reference != "" {
		o.reference = wrong.idOf(lib, "--reference", o.reference)
	}
	var out []analysis.Mixture
	for _, r := range rows {
		m := analysis.Mixture{Weighed: r.amounts}
		for i, a := range m.Weighed {
			m.Weighed[i].ID = wrong.idOf(lib, "--weighed", a.ID)
		}
		var err error
		if m.Job, err = o.newJob(r.file); err != nil {
			return nil, err
		}
		m.Job.Collection = lib
		out = append(out, m)
	}
	return out, wrong.err()
}

// loadFactors reads the table that --factors names; nil without one.
func (o *options) loadFactors() (*analysis.FactorTable, error) {
	if o.factorTable == "" {
		return nil, nil
	}
	f, err := os.Open(o.factorTable)
	if err != nil {
		return nil, fmt.Errorf("--factors: %w", noFile(err))
	}
	defer f.Close()
	t, err := resultfile.ReadFactors(f, o.factorTable)
	return &t, err
}
