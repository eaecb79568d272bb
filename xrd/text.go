package xrd

import (
	"strings"
	"unicode"
)

// Printable returns a text without control characters (tabs and line ends stay) and without those that turn the direction of writing:
// names go into pages and onto terminals, which these would steer.
func Printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\t' && r != '\n' || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, s)
}

// OneLine returns a text with a space for every line end: messages of libraries quote what stands in a file.
func OneLine(s string) string { return lineEnds.Replace(s) }

var lineEnds = strings.NewReplacer("\r\n", " ", "\n", " ", "\r", " ")

// EditDistance returns how many letters (bytes) have to be put in, left out, changed or swapped with their neighbour to turn a into b:
// the optimal string alignment distance.
func EditDistance(a, b string) int {
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
