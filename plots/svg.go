package plots

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image/color"
	"slices"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// SVG returns the figure as a scalable drawing with its letters embedded, a title and a description for screen readers.
func (f *Figure) SVG() ([]byte, error) { return f.svg(true), nil }

// InlineSVG returns the drawing for use inside a page: without letters of its own. Those of the page stand in for them, drawn out or
// pressed together to the same width, so that no label leaves the drawing.
func (f *Figure) InlineSVG() []byte { return f.svg(false) }

func (f *Figure) svg(fonts bool) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" lang="%s" aria-label="%s" width="%spt" height="%spt" viewBox="0 0 %s %s">`+"\n",
		xmlText(f.language), xmlText(f.title), num(f.width), num(f.height), num(f.width), num(f.height))
	fmt.Fprintf(&b, "<title>%s</title>\n<desc>%s</desc>\n", xmlText(f.title), xmlText(f.about))
	if fonts {
		f.svgFonts(&b)
	}
	fmt.Fprintf(&b, `<rect width="%s" height="%s" fill="%s"/>`+"\n", num(f.width), num(f.height), rgb(f.paper))
	for _, it := range f.items {
		if it.shape != nil {
			svgShape(&b, it.shape)
		} else {
			svgLabel(&b, it.label, !fonts)
		}
	}
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
		letters := f.letters(bold)
		if letters == "" {
			continue
		}
		weight := 400
		if bold {
			weight = 700
		}
		cut := fpdf.UTF8CutFont(slices.Clone(face(bold).data), letters)
		fmt.Fprintf(b, "@font-face{font-family:Figure;font-weight:%d;src:url(data:font/ttf;base64,%s)}", weight,
			base64.StdEncoding.EncodeToString(cut))
	}
	b.WriteString("</style>\n")
}

// letters are the runes that occur in a weight, sorted.
func (f *Figure) letters(bold bool) string {
	seen := map[rune]bool{}
	for _, it := range f.items {
		if it.label != nil && it.label.bold == bold {
			for _, r := range it.label.text {
				seen[r] = true
			}
		}
	}
	runes := make([]rune, 0, len(seen))
	for r := range seen {
		runes = append(runes, r)
	}
	slices.Sort(runes)
	return string(runes)
}

func svgShape(b *bytes.Buffer, s *shape) {
	b.WriteString(`<path d="`)
	for _, run := range s.runs {
		svgRun(b, run, s.closed)
	}
	b.WriteString(`" fill="` + paintOf(s.fill) + `"`)
	if s.fill.A > 0 && s.fill.A < 255 {
		fmt.Fprintf(b, ` fill-opacity="%.2f"`, float64(s.fill.A)/255)
	}
	if s.stroke.A > 0 {
		fmt.Fprintf(b, ` stroke="%s" stroke-width="%s" stroke-linejoin="round"`, rgb(s.stroke), num(s.width))
		if s.stroke.A < 255 {
			fmt.Fprintf(b, ` stroke-opacity="%.2f"`, float64(s.stroke.A)/255)
		}
		if len(s.dash) > 0 {
			dashes := make([]string, len(s.dash))
			for i, d := range s.dash {
				dashes[i] = num(d)
			}
			fmt.Fprintf(b, ` stroke-dasharray="%s"`, strings.Join(dashes, " "))
		}
	}
	b.WriteString("/>\n")
}

// svgRun writes relative steps in hundredths of a point, which keeps long curves short; rounding does not add up
// because each step starts from the rounded point before.
func svgRun(b *bytes.Buffer, run []point, closed bool) {
	x, y := round2(run[0].x), round2(run[0].y)
	b.WriteString("M" + num(x) + " " + num(y) + "l")
	var cell []byte
	for i, p := range run[1:] {
		px, py := round2(p.x), round2(p.y)
		cell = appendNum(cell[:0], px-x)
		if i > 0 && cell[0] != '-' {
			b.WriteByte(' ')
		}
		b.Write(cell)
		cell = appendNum(cell[:0], py-y)
		if cell[0] != '-' {
			b.WriteByte(' ')
		}
		b.Write(cell)
		x, y = px, py
	}
	if closed {
		b.WriteByte('z')
	}
}

func svgLabel(b *bytes.Buffer, l *label, fitted bool) {
	anchor := "start"
	switch {
	case l.anchor > 0.75:
		anchor = "end"
	case l.anchor > 0.25:
		anchor = "middle"
	}
	fmt.Fprintf(b, `<text font-family="Figure,Liberation Sans,Arial,sans-serif" x="%s" y="%s" font-size="%s" fill="%s" text-anchor="%s"`, num(l.x), num(l.y), num(l.size), rgb(l.colour), anchor)
	if l.bold {
		b.WriteString(` font-weight="700"`)
	}
	if w := textWidth(l.text, l.size, l.bold); fitted && w > 0 {
		fmt.Fprintf(b, ` textLength="%s" lengthAdjust="spacingAndGlyphs"`, num(w))
	}
	if l.vertical {
		fmt.Fprintf(b, ` transform="rotate(-90 %s %s)"`, num(l.x), num(l.y))
	}
	b.WriteString(">" + html.EscapeString(l.text) + "</text>\n")
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

func paintOf(c color.NRGBA) string {
	if c.A == 0 {
		return "none"
	}
	return rgb(c)
}
