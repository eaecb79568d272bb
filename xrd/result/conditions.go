package result

import (
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
)

// Conditions are what was done to each specimen of a series: named columns, one row a file.
type Conditions struct {
	Columns []string            // their names, that of the file left out
	Rows    map[string][]string // by file name as typed; parallel to Columns; an empty cell is unknown
}

// Of returns the row of a file, found by the name as typed, else by its last part; nil when there is none, or when
// several have that last part.
func (c Conditions) Of(file string) []string { return c.Index().Row(file) }

// A ConditionIndex finds rows by name in one step; a series may have thousands.
type ConditionIndex struct {
	whole, last map[string][]string
}

// Index makes rows easy to find, for many files.
func (c Conditions) Index() ConditionIndex {
	x := ConditionIndex{make(map[string][]string, len(c.Rows)), make(map[string][]string, len(c.Rows))}
	for name, row := range c.Rows {
		x.whole[slashes(name)] = row
		if _, twice := x.last[lastPart(name)]; twice {
			row = nil
		}
		x.last[lastPart(name)] = row
	}
	return x
}

// Row returns the row of a file as Conditions.Of does.
func (x ConditionIndex) Row(file string) []string {
	if row := x.whole[slashes(file)]; row != nil {
		return row
	}
	return x.last[lastPart(file)]
}

func slashes(name string) string { return path.Clean(strings.ReplaceAll(name, `\`, "/")) }

func lastPart(name string) string { return path.Base(slashes(name)) }

// Cell returns what the table says of a file in a column, found whatever its case; empty when it says nothing.
func (c Conditions) Cell(file, column string) string {
	k := slices.IndexFunc(c.Columns, func(name string) bool { return strings.EqualFold(strings.TrimSpace(name), column) })
	row := c.Of(file)
	if k < 0 || k >= len(row) {
		return ""
	}
	return strings.TrimSpace(row[k])
}

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
	rows := c.Index()
	for _, f := range files {
		if rows.Row(f) == nil {
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
