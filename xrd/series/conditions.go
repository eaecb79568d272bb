package series

import (
	"fmt"
	"strings"
	"time"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// attach gives every entry its conditions and chooses what trends are drawn against: the first column whose cells are
// all numbers, known for most scans, and not all the same; where no column of numbers serves, the first of dates, in days
// since the first of them. Scans without a value there are left out of trends.
func attach(s *result.Series, c result.Conditions) {
	rows := c.Index()
	s.Conditions, s.Numeric = append([]string{}, c.Columns...), make([]bool, len(c.Columns))
	for i := range s.Scans {
		s.Scans[i].Conditions = make([]string, len(c.Columns))
		s.Scans[i].Abscissa = nil
		copy(s.Scans[i].Conditions, rows.Row(s.Scans[i].File))
	}
	chosen, name, value := -1, "", result.ParseCondition
	for k := range c.Columns {
		var varies bool
		if s.Numeric[k], varies = column(s, k, result.ParseCondition); varies && chosen < 0 {
			chosen, name = k, c.Columns[k]
		}
	}
	for k := range c.Columns {
		if day, first := daysSince(s, k); chosen < 0 && day != nil {
			if _, varies := column(s, k, day); varies {
				chosen, name, value = k, c.Columns[k]+", days since "+first, day
			}
		}
	}
	if chosen < 0 {
		if _, missing := c.Unmatched(filesOf(s)); len(missing) > 0 {
			s.Cautions = append(s.Cautions, conditionsMissing("row", "", missing))
		}
		return
	}
	s.Abscissa = name
	var missing []string
	for i := range s.Scans {
		e := &s.Scans[i]
		if v, ok := value(e.Conditions[chosen]); ok {
			e.Abscissa = &v
		} else {
			missing = append(missing, e.File)
		}
	}
	if len(missing) > 0 {
		s.Cautions = append(s.Cautions, conditionsMissing(c.Columns[chosen], " Trends leave out what has none.", missing))
	}
}

// column reports whether the known cells of a column can all be read as values, and whether trends can run along it.
func column(s *result.Series, k int, value func(string) (float64, bool)) (readable, varies bool) {
	values := map[float64]bool{}
	known := 0
	for _, e := range s.Scans {
		if e.Conditions[k] == "" {
			continue
		}
		v, ok := value(e.Conditions[k])
		if !ok {
			return false, false
		}
		known++
		values[v] = true
	}
	return true, 2*known > len(s.Scans) && len(values) > 1
}

// daysSince returns what reads a date of a column as days since its first one, and the day of that; nil when no cell is a date.
func daysSince(s *result.Series, k int) (days func(string) (float64, bool), first string) {
	var begin time.Time
	for _, e := range s.Scans {
		if t, ok := result.ParseDate(e.Conditions[k]); ok && (begin.IsZero() || t.Before(begin)) {
			begin = t
		}
	}
	if begin.IsZero() {
		return nil, ""
	}
	begin = time.Date(begin.Year(), begin.Month(), begin.Day(), 0, 0, 0, 0, begin.Location())
	return func(cell string) (float64, bool) {
		t, ok := result.ParseDate(cell)
		return t.Sub(begin).Hours() / 24, ok
	}, begin.Format(time.DateOnly)
}

func filesOf(s *result.Series) []string {
	out := make([]string, len(s.Scans))
	for i, e := range s.Scans {
		out[i] = e.File
	}
	return out
}

func conditionsMissing(what, consequence string, files []string) xrd.Caution {
	return xrd.Caution{Code: "conditions-missing", Severity: xrd.SeverityCaution,
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
