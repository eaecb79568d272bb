package report

import (
	"strings"
	"unicode/utf8"

	"phasetally/plots"
)

// align pads columns: words to the left, numbers (the middle ones) to the right.
func align(rows [][]string) string {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			width[i] = max(width[i], utf8.RuneCountInString(cell))
		}
	}
	var b strings.Builder
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(cell))
			if i >= 2 && i < len(row)-1 {
				cell, pad = pad+cell, ""
			}
			line.WriteString(cell + pad + "   ")
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return b.String()
}

func fixed(v *float64, n int) string {
	if v == nil {
		return "?"
	}
	return plots.Fixed(*v, n)
}
