package resultfile

import (
	"io"
	"slices"

	"phasetally/xrd/result"
)

// ofEachPhase are the columns of the wide table that every phase has.
var ofEachPhase = []struct {
	name string
	get  func(*result.SeriesShare) *float64
}{
	{"weight_percent", func(p *share) *float64 { return p.WeightPercent }},
	{"weight_percent_lo95", func(p *share) *float64 { return p.WeightPercentLo }},
	{"weight_percent_hi95", func(p *share) *float64 { return p.WeightPercentHi }},
	{"detection_limit_weight_percent", func(p *share) *float64 { return p.DetectionLimit }},
}

// wideColumns are those of the scan, its conditions, four for each phase, and how far the answer can be trusted.
func wideColumns(s result.Series) []tidyColumn {
	out := seriesColumns(s)[:len(scanColumns)+len(s.Conditions)]
	for k, p := range s.Phases {
		for _, c := range ofEachPhase {
			out = append(out, tidyColumn{p.ID + "_" + c.name, 0.0, func(r seriesRow) cell {
				if k >= len(r.entry.Phases) {
					return nil
				}
				return float(c.get(&r.entry.Phases[k]))
			}})
		}
	}
	return append(out, tidyColumn{"verdict", "", func(r seriesRow) cell { return string(r.entry.Verdict) }},
		tidyColumn{"stop", false, func(r seriesRow) cell { return r.entry.Stop }}, named("r_wp"), named("reduced_chi_square"), named("cautions"), named("error"))
}

// named is the column of the tidy table with a name.
func named(name string) tidyColumn {
	return phaseColumns[slices.IndexFunc(phaseColumns, func(c tidyColumn) bool { return c.name == name })]
}

// WriteSeriesWide writes series-wide.csv, one row a scan: what a spreadsheet draws from. A phase that is not seen has no
// fraction and its limit.
func WriteSeriesWide(out io.Writer, s result.Series, l Locale) error {
	columns := wideColumns(s)
	w := NewTableWriter(out, l)
	row := make([]string, len(columns))
	for i, c := range columns {
		row[i] = text(c.name)
	}
	w.Write(row)
	for i := range s.Scans {
		r := seriesRow{scan: int64(i + 1), entry: &s.Scans[i]}
		for k, c := range columns {
			row[k] = cellText(c.get(r))
		}
		w.Write(row)
	}
	return w.Flush()
}
