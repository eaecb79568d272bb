package plots

import (
	"fmt"
	"html"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// The digits of a formula below the line are ordinary digits, smaller and lower: the font's own (U+2080 to U+2089) stand in
// gaps as wide as full digits.
const (
	lowScale = 0.68 // of their size over that of the text
	lowDrop  = 0.14 // of the text's size, below its line
)

// lowDigit returns the ordinary digit of one below the line.
func lowDigit(r rune) (digit rune, ok bool) { return r - '₀' + '0', r >= '₀' && r <= '₉' }

// loweredPieces cuts a text where it goes below the line or comes back, and writes what is below with ordinary digits.
func loweredPieces(text string, piece func(s string, low bool)) {
	for text != "" {
		_, low := lowDigit([]rune(text)[0])
		end := strings.IndexFunc(text, func(r rune) bool { _, is := lowDigit(r); return is != low })
		if end < 0 {
			end = len(text)
		}
		s := text[:end]
		if low {
			s = strings.Map(func(r rune) rune { d, _ := lowDigit(r); return d }, s)
		}
		piece(s, low)
		text = text[end:]
	}
}

// fillLowered writes a text piece by piece by means of fill, which writes one piece from its left end.
func fillLowered(f font.Face, at vg.Point, text string, fill func(font.Face, vg.Point, string)) {
	bold, size := isBold(f.Font), f.Font.Size.Points()
	loweredPieces(text, func(s string, low bool) {
		if low {
			fill(letters(bold, lowScale*size), vg.Point{X: at.X, Y: at.Y - vg.Length(lowDrop*size)}, s)
			at.X += vg.Length(textWidth(s, lowScale*size, bold))
			return
		}
		fill(f, at, s)
		at.X += vg.Length(textWidth(s, size, bold))
	})
}

// loweredSpans is a text as the content of an SVG element.
func loweredSpans(text string, size float64) string {
	var b strings.Builder
	below := false
	loweredPieces(text, func(s string, low bool) {
		s = html.EscapeString(s)
		switch {
		case low:
			fmt.Fprintf(&b, `<tspan font-size="%s" dy="%s">%s</tspan>`, num(lowScale*size), num(lowDrop*size), s)
		case below:
			fmt.Fprintf(&b, `<tspan dy="%s">%s</tspan>`, num(-lowDrop*size), s)
		default:
			b.WriteString(s)
		}
		below = low
	})
	return b.String()
}
