package analysis

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd"
)

// Conditions are what was done to each specimen of a series: named columns, one row a file.
type Conditions struct {
	Columns []string
	Rows    map[string][]string // by file name as typed; parallel to Columns; an empty cell is unknown
}

// Of returns the row of a file, found by the name as typed, else by its last part; nil when there is none, or when
// several have that last part.
func (c Conditions) Of(file string) []string { return c.index().row(file) }

// conditionIndex finds rows by name in one step; a series may have thousands.
type conditionIndex struct {
	whole, last map[string][]string
}

func (c Conditions) index() conditionIndex {
	x := conditionIndex{make(map[string][]string, len(c.Rows)), make(map[string][]string, len(c.Rows))}
	for name, row := range c.Rows {
		x.whole[slashes(name)] = row
		if _, twice := x.last[lastPart(name)]; twice {
			row = nil
		}
		x.last[lastPart(name)] = row
	}
	return x
}

func (x conditionIndex) row(file string) []string {
	if row := x.whole[slashes(file)]; row != nil {
		return row
	}
	return x.last[lastPart(file)]
}

func slashes(name string) string { return path.Clean(strings.ReplaceAll(name, `\`, "/")) }

func lastPart(name string) string { return path.Base(slashes(name)) }

// Unmatched returns, sorted, the names of rows that belong to none of the files, and the files that have no row.
func (c Conditions) Unmatched(files []string) (extra, missing []string) {
	if len(c.Columns) == 0 {
		return nil, nil
	}
	parts := make(map[string]bool, len(files))
	for _, f := range files {
		parts[lastPart(f)] = true
	}
	for name := range c.Rows {
		if !parts[lastPart(name)] {
			extra = append(extra, name)
		}
	}
	slices.Sort(extra)
	rows := c.index()
	for _, f := range files {
		if rows.row(f) == nil {
			missing = append(missing, f)
		}
	}
	return extra, missing
}

// ParseCondition reads a number as people type it: a decimal point or comma; ok is false for anything else.
func ParseCondition(s string) (v float64, ok bool) {
	s = strings.Replace(strings.TrimSpace(s), "−", "-", 1)
	v, err := strconv.ParseFloat(s, 64)
	if err != nil && strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		v, err = strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	}
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// attach gives every entry its conditions and chooses what trends are drawn against: the first column whose cells are
// all numbers, known for most scans, and not all the same. Scans without a number there are left out of trends.
func (s *SeriesResult) attach(c Conditions) {
	rows := c.index()
	s.Conditions, s.Numeric = append([]string{}, c.Columns...), make([]bool, len(c.Columns))
	for i := range s.Scans {
		s.Scans[i].Conditions = make([]string, len(c.Columns))
		s.Scans[i].Abscissa = nil
		copy(s.Scans[i].Conditions, rows.row(s.Scans[i].File))
	}
	chosen := -1
	for k := range c.Columns {
		var varies bool
		s.Numeric[k], varies = s.column(k)
		if chosen < 0 && s.Numeric[k] && varies {
			chosen = k
		}
	}
	if chosen < 0 {
		if _, missing := c.Unmatched(s.files()); len(missing) > 0 {
			s.Cautions = append(s.Cautions, conditionsMissing("row", "", missing))
		}
		return
	}
	s.Abscissa = c.Columns[chosen]
	var missing []string
	for i := range s.Scans {
		e := &s.Scans[i]
		if v, ok := ParseCondition(e.Conditions[chosen]); ok {
			e.Abscissa = &v
		} else {
			missing = append(missing, e.File)
		}
	}
	if len(missing) > 0 {
		s.Cautions = append(s.Cautions, conditionsMissing(s.Abscissa, " Trends leave out what has none.", missing))
	}
}

// column reports whether the known cells of a column are all numbers, and whether trends can run along it.
func (s *SeriesResult) column(k int) (numeric, varies bool) {
	values := map[float64]bool{}
	known := 0
	for _, e := range s.Scans {
		if e.Conditions[k] == "" {
			continue
		}
		v, ok := ParseCondition(e.Conditions[k])
		if !ok {
			return false, false
		}
		known++
		values[v] = true
	}
	return true, 2*known > len(s.Scans) && len(values) > 1
}

func (s *SeriesResult) files() []string {
	out := make([]string, len(s.Scans))
	for i, e := range s.Scans {
		out[i] = e.File
	}
	return out
}

func conditionsMissing(what, consequence string, files []string) xrd.Caution {
	return xrd.Caution{Code: "conditions-missing", Severity: xrd.Warn,
		Text:   fmt.Sprintf("The table of conditions has no %s for %s.%s", what, few(files), consequence),
		Remedy: "Give each scan a row that begins with the name of its file, and fill its cells.", Evidence: map[string]any{"scans": len(files)}}
}

// few names up to four things and counts the rest.
func few(names []string) string {
	const most = 4
	if len(names) > most {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Join(names, ", ")
}
