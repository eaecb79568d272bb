package result

import (
	"strings"
	"time"
)

// dateLayouts are the ways to write a day, with or without a time, that mean the same everywhere: ISO 8601, and day.month.year
// as in German. Dates with slashes are left out: 3/4 is another day in another country.
var dateLayouts = []string{"2006-01-02", "2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05", time.RFC3339,
	"2.1.2006", "2.1.2006 15:04", "2.1.2006 15:04:05"}

// ParseDate reads a date, or a date with a time of day, as ISO 8601 or as day.month.year. Without a zone it is taken as UTC, so
// that differences are in hours as a clock shows them. ok is false for anything else, and for years before 1800.
func ParseDate(s string) (t time.Time, ok bool) {
	s = strings.TrimSpace(s)
	for _, layout := range dateLayouts {
		if t, err := time.Parse(layout, s); err == nil && t.Year() >= 1800 {
			return t, true
		}
	}
	return time.Time{}, false
}
