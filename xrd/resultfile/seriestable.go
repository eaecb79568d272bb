package resultfile

import (
	"fmt"
	"io"
	"iter"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd/result"
)

// A cell of the tidy table is a float64, an int64, a bool, a string, or nil for what is unknown.
type cell any

// A tidyColumn is a column of the tidy table, the same in every format.
type tidyColumn struct {
	name string
	kind cell // a value of the column's type
	get  func(seriesRow) cell
}

// A seriesRow is one scan and phase; phase is nil for a scan without an answer.
type seriesRow struct {
	scan  int64 // counted from 1
	entry *result.SeriesEntry
	name  string // of the phase
	phase *result.SeriesShare
}

// seriesRows goes through all rows; a long series has too many to hold.
func seriesRows(s result.Series) iter.Seq[seriesRow] {
	return func(yield func(seriesRow) bool) {
		for i := range s.Scans {
			row := seriesRow{scan: int64(i + 1), entry: &s.Scans[i]}
			if len(row.entry.Phases) == 0 && !yield(row) {
				return
			}
			for k := range row.entry.Phases {
				row.phase, row.name = &row.entry.Phases[k], s.Phases[k].Name
				if !yield(row) {
					return
				}
			}
		}
	}
}

// float makes a cell of a number that may be unknown.
func float(v *float64) cell {
	if v == nil {
		return nil
	}
	return *v
}

// ofPhase is a column that a scan without an answer leaves empty.
func ofPhase(name string, kind cell, get func(*result.SeriesShare) cell) tidyColumn {
	return tidyColumn{name, kind, func(r seriesRow) cell {
		if r.phase == nil {
			return nil
		}
		return get(r.phase)
	}}
}

func amountOf(name string, get func(*result.SeriesShare) *float64) tidyColumn {
	return ofPhase(name, 0.0, func(p *result.SeriesShare) cell { return float(get(p)) })
}

func ofScan(name string, get func(*result.SeriesEntry) *float64) tidyColumn {
	return tidyColumn{name, 0.0, func(r seriesRow) cell { return float(get(r.entry)) }}
}

// scanColumns come first, then the conditions, then phaseColumns.
var scanColumns = []tidyColumn{
	{"scan", int64(0), func(r seriesRow) cell { return r.scan }},
	{"file", "", func(r seriesRow) cell { return r.entry.File }},
	{"sample", "", func(r seriesRow) cell { return r.entry.Sample }},
}

type share = result.SeriesShare

var phaseColumns = []tidyColumn{
	ofPhase("phase_id", "", func(p *share) cell { return p.ID }),
	{"phase", "", func(r seriesRow) cell { return r.name }},
	ofPhase("origin", "", func(p *share) cell { return p.Origin }),
	ofPhase("evidence", "", func(p *share) cell { return p.Evidence }),
	ofPhase("detected", false, func(p *share) cell {
		if p.Evidence == result.NotJudged {
			return nil
		}
		return p.Detected
	}),
	amountOf("weight_percent", func(p *share) *float64 { return p.WeightPercent }),
	amountOf("weight_percent_lo95", func(p *share) *float64 { return p.WeightPercentLo }),
	amountOf("weight_percent_hi95", func(p *share) *float64 { return p.WeightPercentHi }),
	amountOf("detection_limit_weight_percent", func(p *share) *float64 { return p.DetectionLimit }),
	amountOf("volume_percent", func(p *share) *float64 { return p.VolumePercent }),
	amountOf("volume_percent_lo95", func(p *share) *float64 { return p.VolumePercentLo }),
	amountOf("volume_percent_hi95", func(p *share) *float64 { return p.VolumePercentHi }),
	amountOf("original_weight_percent", func(p *share) *float64 { return p.Original }),
	amountOf("original_weight_percent_lo95", func(p *share) *float64 { return p.OriginalLo }),
	amountOf("original_weight_percent_hi95", func(p *share) *float64 { return p.OriginalHi }),
	amountOf("coarse_limit_weight_percent", func(p *share) *float64 { return p.CoarseLimit }),
	amountOf("fine_limit_weight_percent", func(p *share) *float64 { return p.FineLimit }),
	amountOf("cell_a_angstrom", func(p *share) *float64 { return p.CellA }),
	amountOf("cell_a_u_angstrom", func(p *share) *float64 { return p.CellAU }),
	amountOf("cell_b_angstrom", func(p *share) *float64 { return p.CellB }),
	amountOf("cell_b_u_angstrom", func(p *share) *float64 { return p.CellBU }),
	amountOf("cell_c_angstrom", func(p *share) *float64 { return p.CellC }),
	amountOf("cell_c_u_angstrom", func(p *share) *float64 { return p.CellCU }),
	amountOf("size_nm", func(p *share) *float64 { return p.SizeNM }),
	amountOf("strain", func(p *share) *float64 { return p.Strain }),
	{"radiation", "", func(r seriesRow) cell { return r.entry.Radiation }},
	ofScan("wavelength_angstrom", func(e *result.SeriesEntry) *float64 { return e.Wavelength }),
	ofScan("two_theta_min_deg", func(e *result.SeriesEntry) *float64 { return e.TwoThetaMin }),
	ofScan("two_theta_max_deg", func(e *result.SeriesEntry) *float64 { return e.TwoThetaMax }),
	ofScan("displacement_mm", func(e *result.SeriesEntry) *float64 { return e.DisplacementMM }),
	ofScan("r_wp", func(e *result.SeriesEntry) *float64 { return e.RWP }),
	ofScan("reduced_chi_square", func(e *result.SeriesEntry) *float64 { return e.ReducedChiSquare }),
	{"fit_status", "", func(r seriesRow) cell { return r.entry.Status }},
	{"cautions", "", func(r seriesRow) cell { return strings.Join(r.entry.Cautions, "; ") }},
	{"error", "", func(r seriesRow) cell { return r.entry.Error }},
	{"sha256", "", func(r seriesRow) cell { return r.entry.SHA256 }},
}

// seriesColumns returns all columns of a series; those of the conditions are numbers where every cell is one.
func seriesColumns(s result.Series) []tidyColumn {
	out := slices.Clone(scanColumns)
	for k, name := range s.Conditions {
		c := tidyColumn{name, "", func(r seriesRow) cell { return r.entry.Conditions[k] }}
		if s.Numeric[k] {
			c = tidyColumn{name, 0.0, func(r seriesRow) cell {
				if v, ok := result.ParseCondition(r.entry.Conditions[k]); ok {
					return v
				}
				return nil
			}}
		}
		out = append(out, c)
	}
	return append(out, phaseColumns...)
}

// takenName reports whether a column of conditions would be taken for one of ours.
func takenName(name string) bool {
	same := func(c tidyColumn) bool { return strings.EqualFold(c.name, name) }
	return slices.ContainsFunc(scanColumns, same) || slices.ContainsFunc(phaseColumns, same)
}

// WriteSeriesCSV writes series.csv in a locale, one row a scan and phase: a phase that a scan does not show has detected "false", no
// fraction and its limit, one of a scan that is not explained an empty cell; a scan without an answer has one row with its error. Unknown numbers are empty cells.
func WriteSeriesCSV(out io.Writer, s result.Series, l Locale) error {
	columns := seriesColumns(s)
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = text(c.name)
	}
	w := NewTableWriter(out, l)
	w.Write(row)
	for r := range seriesRows(s) {
		for i, c := range columns {
			row[i] = cellText(c.get(r))
		}
		w.Write(row)
	}
	return w.Flush()
}

func cellText(c cell) string {
	switch v := c.(type) {
	case float64:
		return number(v, intensityDigits)
	case int64:
		return strconv.FormatInt(v, 10)
	case bool:
		return strconv.FormatBool(v)
	case string:
		return text(v)
	case nil:
		return ""
	}
	return fmt.Sprint(c)
}
