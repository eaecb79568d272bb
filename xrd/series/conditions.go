package series

import (
	"fmt"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// attach gives every entry its conditions and chooses what trends are drawn against: the first column whose cells are
// all numbers, known for most scans, and not all the same. Scans without a number there are left out of trends.
func attach(s *result.Series, c result.Conditions) {
	rows := c.Index()
	s.Conditions, s.Numeric = append([]string{}, c.Columns...), make([]bool, len(c.Columns))
	for i := range s.Scans {
		s.Scans[i].Conditions = make([]string, len(c.Columns))
		s.Scans[i].Abscissa = nil
		copy(s.Scans[i].Conditions, rows.Row(s.Scans[i].File))
	}
	chosen := -1
	for k := range c.Columns {
		var varies bool
		s.Numeric[k], varies = column(s, k)
		if chosen < 0 && s.Numeric[k] && varies {
			chosen = k
		}
	}
	if chosen < 0 {
		if _, missing := c.Unmatched(filesOf(s)); len(missing) > 0 {
			s.Cautions = append(s.Cautions, conditionsMissing("row", "", missing))
		}
		return
	}
	s.Abscissa = c.Columns[chosen]
	var missing []string
	for i := range s.Scans {
		e := &s.Scans[i]
		if v, ok := result.ParseCondition(e.Conditions[chosen]); ok {
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
func column(s *result.Series, k int) (numeric, varies bool) {
	values := map[float64]bool{}
	known := 0
	for _, e := range s.Scans {
		if e.Conditions[k] == "" {
			continue
		}
		v, ok := result.ParseCondition(e.Conditions[k])
		if !ok {
			return false, false
		}
		known++
		values[v] = true
	}
	return true, 2*known > len(s.Scans) && len(values) > 1
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
