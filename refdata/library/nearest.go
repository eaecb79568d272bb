package library

import (
	"strings"

	"phasetally/xrd"
)

// NearestID returns the id of which a name is a slip of the pen: one letter put in, left out, changed or swapped with its
// neighbour, two in a name of nine letters or more. Short names have no slips, for tin is no zinc. It reports false when
// none is near.
func (l *Library) NearestID(id string) (string, bool) {
	want := strings.ToLower(strings.TrimSpace(id))
	if len(want) < 5 || len(want) > maxSlip {
		return "", false
	}
	limit := 1
	if len(want) >= 9 {
		limit = 2
	}
	best, found := "", false
	for i := range l.origins {
		name := strings.ToLower(l.id(i))
		if d := len(name) - len(want); d > limit || -d > limit {
			continue
		}
		if d := xrd.EditDistance(want, name); d <= limit && (!found || d < limit) {
			best, found, limit = l.id(i), true, d
		}
	}
	return best, found
}

// maxSlip is the length beyond which nobody wrote the name by hand.
const maxSlip = 60
