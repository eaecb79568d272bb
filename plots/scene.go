package plots

import (
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
)

type point struct{ x, y float64 } // points, from the top left

// A shape is a run of straight lines, filled, stroked, or both.
type shape struct {
	runs   [][]point // each run is a line of its own
	closed bool
	fill   color.NRGBA // alpha 0: not filled
	stroke color.NRGBA // alpha 0: not stroked
	width  float64
	dash   []float64
}

// A label is one line of text. Anchor 0, ½, 1 puts x at its left end, middle or right end; y is the base line. A
// vertical label reads upwards and its anchor runs along y.
type label struct {
	x, y, anchor, size float64
	bold, vertical     bool
	colour             color.NRGBA
	text               string
}

// box is the space that a label takes.
type box struct{ left, top, right, bottom float64 }

func (b box) meets(o box) bool {
	return b.left < o.right && o.left < b.right && b.top < o.bottom && o.top < b.bottom
}

func (b box) grow(by float64) box { return box{b.left - by, b.top - by, b.right + by, b.bottom + by} }

// ascent and descent of the font, in units of its size: enough for capitals with accents.
const ascent, descent = 0.78, 0.22

func (l label) box() box {
	w := textWidth(l.text, l.size, l.bold)
	along, up, down := l.anchor*w, ascent*l.size, descent*l.size
	if l.vertical {
		return box{l.x - up, l.y + along - w, l.x + down, l.y + along}
	}
	return box{l.x - along, l.y - up, l.x - along + w, l.y + down}
}

// A page draws on a canvas in points from the top left corner, as pages are laid out; the canvas counts from the foot.
type page struct {
	canvas vg.Canvas
	top    float64 // of the page on the canvas
}

func (g page) at(p point) vg.Point { return vg.Point{X: vg.Length(p.x), Y: vg.Length(g.top - p.y)} }

func (g page) add(s shape) {
	size := 0
	for _, run := range s.runs {
		size += len(run) + 1
	}
	path := make(vg.Path, 0, size)
	for _, run := range s.runs {
		if len(run) < 2 {
			continue
		}
		path.Move(g.at(run[0]))
		for _, p := range run[1:] {
			path.Line(g.at(p))
		}
		if s.closed {
			path.Close()
		}
	}
	if len(path) > 0 && s.fill.A > 0 {
		g.canvas.SetColor(s.fill)
		g.canvas.Fill(path)
	}
	if len(path) > 0 && s.stroke.A > 0 {
		dashes := make([]vg.Length, len(s.dash))
		for i, d := range s.dash {
			dashes[i] = vg.Length(d)
		}
		g.canvas.SetColor(s.stroke)
		g.canvas.SetLineWidth(vg.Length(s.width))
		g.canvas.SetLineDash(dashes, 0)
		g.canvas.Stroke(path)
	}
}

func (g page) write(l label) {
	l.text = clean(l.text)
	if l.text == "" {
		return
	}
	b := l.box()
	g.canvas.SetColor(l.colour)
	if !l.vertical {
		g.canvas.FillString(letters(l.bold, l.size), g.at(point{b.left, l.y}), l.text)
		return
	}
	g.canvas.Push()
	g.canvas.Translate(g.at(point{l.x, b.bottom}))
	g.canvas.Rotate(math.Pi / 2)
	g.canvas.FillString(letters(l.bold, l.size), vg.Point{}, l.text)
	g.canvas.Pop()
}

// line strokes one straight or broken line.
func (g page) line(c color.NRGBA, width float64, pts ...point) {
	g.add(shape{runs: [][]point{pts}, stroke: c, width: width})
}

// rect fills a box.
func (g page) rect(b box, fill color.NRGBA) {
	g.add(shape{runs: [][]point{corners(b)}, closed: true, fill: fill})
}

func corners(b box) []point {
	return []point{{b.left, b.top}, {b.right, b.top}, {b.right, b.bottom}, {b.left, b.bottom}}
}

// A Figure is drawn once and can be put on any canvas of the plotting library; it records what was drawn.
type Figure struct {
	page
	record        *recorder.Canvas
	width, height float64 // points
	dpi           int
	paper         color.NRGBA
	title, about  string // for people who cannot see it: one line, then a description
	language      string // of its texts
}

// A sketch is a record that takes paths as they are: a page makes a new one for each shape, so none needs a copy.
type sketch struct{ *recorder.Canvas }

// Stroke records a line.
func (s sketch) Stroke(path vg.Path) { s.Actions = append(s.Actions, &recorder.Stroke{Path: path}) }

// Fill records an area.
func (s sketch) Fill(path vg.Path) { s.Actions = append(s.Actions, &recorder.Fill{Path: path}) }

// newFigure is an empty figure of a height in points, as wide as the medium.
func newFigure(s Style, height float64) *Figure {
	m, record := s.measure(), &recorder.Canvas{}
	return &Figure{page: page{sketch{record}, height}, record: record, width: m.width, height: height, dpi: m.dpi, paper: s.theme().paper, language: s.words().Language}
}

// Size returns width and height in points.
func (f *Figure) Size() (width, height float64) { return f.width, f.height }

// Title returns the one-line text alternative of the figure, Description the longer one.
func (f *Figure) Title() string { return f.title }

// Description returns what the figure shows, for those who cannot see it.
func (f *Figure) Description() string { return f.about }

// Draw puts the figure, without its paper, on a canvas whose origin is the lower left corner. (Replaying the record
// itself would load every font of the plotting library.)
func (f *Figure) Draw(c vg.Canvas) {
	for _, a := range f.record.Actions {
		if s, ok := a.(*recorder.FillString); ok {
			c.FillString(letters(isBold(s.Font), float64(s.Size)), s.Point, s.String)
			continue
		}
		a.ApplyTo(c)
	}
}

// clean keeps what the fonts can show: control characters and direction marks go, an unknown letter becomes a box.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n':
			return ' '
		case r < ' ' || r >= 0x7f && r < 0xa0 || r >= 0x200b && r <= 0x200f || r >= 0x202a && r <= 0x202e || r >= 0x2060 && r <= 0x206f || r == 0xfeff:
			return -1
		case !hasGlyph(r):
			return '□'
		}
		return r
	}, s)
}

// fit shortens a text with an ellipsis to a width in points.
func fit(s string, size float64, bold bool, width float64) string {
	s = clean(s)
	if textWidth(s, size, bold) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && textWidth(string(runes)+"…", size, bold) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}

// wrap breaks a text at spaces into lines no wider than width.
func wrap(s string, size float64, bold bool, width float64) []string {
	var lines []string
	current := ""
	for _, word := range strings.Fields(clean(s)) {
		next := strings.TrimSpace(current + " " + word)
		if current != "" && textWidth(next, size, bold) > width {
			lines = append(lines, current)
			next = word
		}
		current = next
	}
	return append(lines, fit(current, size, bold, width))
}

func round2(v float64) float64 { return math.Round(v*100) / 100 }
