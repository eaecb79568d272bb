package library

import "strings"

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
		if d := distance(want, name); d <= limit && (!found || d < limit) {
			best, found, limit = l.id(i), true, d
		}
	}
	return best, found
}

// maxSlip is the length beyond which nobody wrote the name by hand.
const maxSlip = 60

// distance is the optimal string alignment distance in bytes.
func distance(a, b string) int {
	before, row, next := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		next[0] = i
		for j := 1; j <= len(b); j++ {
			change := row[j-1]
			if a[i-1] != b[j-1] {
				change++
			}
			next[j] = min(change, row[j]+1, next[j-1]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				next[j] = min(next[j], before[j-2]+1)
			}
		}
		before, row, next = row, next, before
	}
	return row[len(b)]
}
