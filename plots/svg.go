package plots

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image/color"
	"maps"
	"slices"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
)

// SVG returns the figure as a scalable drawing with its letters embedded, a title and a description for screen readers.
func (f *Figure) SVG() ([]byte, error) { return f.svg(true), nil }

// InlineSVG returns the drawing for use inside a page: without letters of its own. Those of the page stand in for them, drawn out or
// pressed together to the same width, so that no label leaves the drawing.
func (f *Figure) InlineSVG() []byte { return f.svg(false) }

// svgCanvas writes what the library's own back end cannot: only the letters that occur, a title and a description, short
// relative steps. A figure is a quarter of the size, and the same bytes each time.
type svgCanvas struct {
	pencil
	b      *bytes.Buffer
	height float64
	fitted bool // letters are told the width to take
}

func (f *Figure) svg(fonts bool) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" lang="%s" aria-label="%s" width="%spt" height="%spt" viewBox="0 0 %s %s">`+"\n",
		xmlText(f.language), xmlText(f.title), num(f.width), num(f.height), num(f.width), num(f.height))
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n<metadata>phasetally</metadata>\n", xmlText(f.title), xmlText(f.about))
	if fonts {
		f.svgFonts(&b)
	}
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="%s"/>`+"\n", num(f.width), num(f.height), rgb(f.paper))
	f.Draw(&svgCanvas{newPencil(), &b, f.height, !fonts})
	b.WriteString("</svg>\n")
	return b.Bytes()
}

// xmlText escapes a text and leaves out what XML forbids; letters that the fonts lack may stay, for a voice reads them.
func xmlText(s string) string {
	return html.EscapeString(strings.Map(func(r rune) rune {
		switch {
		case r < ' ':
			return ' '
		case r == 0xfffe || r == 0xffff || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD")))
}

// svgFonts embeds the letters that occur; anything else would be drawn in whatever font the reader has.
func (f *Figure) svgFonts(b *bytes.Buffer) {
	b.WriteString("<style>")
	for _, bold := range []bool{false, true} {
		used := f.lettersOf(bold)
		if used == "" {
			continue
		}
		weight := 400
		if bold {
			weight = 700
		}
		cut := fpdf.UTF8CutFont(slices.Clone(face(bold).data), used)
		fmt.Fprintf(b, "@font-face{font-family:Figure;font-weight:%d;src:url(data:font/ttf;base64,%s)}", weight,
			base64.StdEncoding.EncodeToString(cut))
	}
	b.WriteString("</style>\n")
}

// lettersOf are the runes that occur in a weight, sorted.
func (f *Figure) lettersOf(bold bool) string {
	seen := map[rune]bool{}
	for _, a := range f.record.Actions {
		if s, ok := a.(*recorder.FillString); ok && isBold(s.Font) == bold {
			for _, r := range s.String {
				if digit, low := lowDigit(r); low {
					r = digit
				}
				seen[r] = true
			}
		}
	}
	return string(slices.Sorted(maps.Keys(seen)))
}

// Fill paints an area.
func (c *svgCanvas) Fill(path vg.Path) {
	c.path(path)
	fmt.Fprintf(c.b, ` fill="%s"`, rgb(c.colour))
	c.opacity("fill")
	c.b.WriteString("/>\n")
}

// Stroke draws a line along a path.
func (c *svgCanvas) Stroke(path vg.Path) {
	if !(c.width > 0) {
		return
	}
	c.path(path)
	fmt.Fprintf(c.b, ` fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round"`, rgb(c.colour), num(c.width))
	c.opacity("stroke")
	if len(c.dash) > 0 {
		dashes := make([]string, len(c.dash))
		for i, d := range c.dash {
			dashes[i] = num(d)
		}
		fmt.Fprintf(c.b, ` stroke-dasharray="%s"`, strings.Join(dashes, " "))
	}
	c.b.WriteString("/>\n")
}

func (c *svgCanvas) opacity(of string) {
	if c.colour.A < 255 {
		fmt.Fprintf(c.b, ` %s-opacity="%.2f"`, of, float64(c.colour.A)/255)
	}
}

// path writes relative steps in hundredths of a point, which keeps long curves short; rounding does not add up because
// each step starts from the rounded point before.
func (c *svgCanvas) path(path vg.Path) {
	c.b.WriteString(`<path d="`)
	var x, y float64
	first := true
	c.walk(path, func(p point) {
		x, y, first = round2(p.x), round2(c.height-p.y), true
		c.b.WriteByte('M')
		c.step(x, y, true)
		c.b.WriteByte('l')
	}, func(p point) {
		px, py := round2(p.x), round2(c.height-p.y)
		c.step(px-x, py-y, first)
		x, y, first = px, py, false
	}, func() { c.b.WriteByte('z') })
	c.b.WriteByte('"')
}

// step writes a pair of numbers; a minus separates as well as a space does.
func (c *svgCanvas) step(x, y float64, first bool) {
	var cell [32]byte
	for i, v := range []float64{x, y} {
		b := appendNum(cell[:0], v)
		if b[0] != '-' && !(first && i == 0) {
			c.b.WriteByte(' ')
		}
		c.b.Write(b)
	}
}

// FillString writes a text from its left end.
func (c *svgCanvas) FillString(f font.Face, pt vg.Point, text string) {
	at := c.at(pt)
	x, y := num(at.x), num(c.height-at.y)
	fmt.Fprintf(c.b, `<text font-family="Figure,Liberation Sans,Arial,sans-serif" x="%s" y="%s" font-size="%s" fill="%s"`, x, y, num(f.Font.Size.Points()), rgb(c.colour))
	if isBold(f.Font) {
		c.b.WriteString(` font-weight="700"`)
	}
	if w := textWidth(text, f.Font.Size.Points(), isBold(f.Font)); c.fitted && w > 0 {
		fmt.Fprintf(c.b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(w))
	}
	if a := c.angle(); a != 0 {
		fmt.Fprintf(c.b, ` transform="rotate(%s %s %s)"`, num(-a), x, y)
	}
	c.b.WriteString(">")
	c.b.WriteString(loweredSpans(text, f.Font.Size.Points()))
	c.b.WriteString("</text>\n")
}

func num(v float64) string { return string(appendNum(nil, v)) }

// appendNum prints at most two decimals and no leading zero: .25, -.5, 3.
func appendNum(b []byte, v float64) []byte {
	v = round2(v)
	if v == 0 {
		return append(b, '0')
	}
	start := len(b)
	b = strconv.AppendFloat(b, v, 'f', -1, 64)
	digits := start
	if b[digits] == '-' {
		digits++
	}
	if b[digits] == '0' && len(b) > digits+1 {
		b = append(b[:digits], b[digits+1:]...)
	}
	return b
}

func rgb(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
