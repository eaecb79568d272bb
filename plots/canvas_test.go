package plots

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// An item is a shape or a label that a figure drew, in points from the top left corner of the page.
type item struct {
	shape *shape
	label *label
}

// readCanvas is a back end that only remembers.
type readCanvas struct {
	pencil
	height float64
	items  []item
}

func (c *readCanvas) keep(path vg.Path) *shape {
	s := &shape{}
	to := func(p point) {
		last := len(s.runs) - 1
		s.runs[last] = append(s.runs[last], point{p.x, c.height - p.y})
	}
	c.walk(path, func(p point) { s.runs = append(s.runs, nil); to(p) }, to, func() { s.closed = true })
	c.items = append(c.items, item{shape: s})
	return s
}

func (c *readCanvas) Fill(path vg.Path)   { c.keep(path).fill = c.colour }
func (c *readCanvas) Stroke(path vg.Path) { c.keep(path).stroke = c.colour }
func (c *readCanvas) FillString(f font.Face, pt vg.Point, text string) {
	at := c.at(pt)
	l := &label{x: at.x, y: c.height - at.y, size: f.Font.Size.Points(), bold: isBold(f.Font), vertical: c.angle() != 0, colour: c.colour, text: text}
	c.items = append(c.items, item{label: l})
}

func items(f *Figure) []item {
	c := &readCanvas{pencil: newPencil(), height: f.height}
	f.Draw(c)
	return c.items
}

// Moves, turns and scales apply to what follows, the last first, and Pop undoes them, as the interface of the library says.
func TestPencilFollowsTheStateOfTheLibrary(t *testing.T) {
	p := newPencil()
	p.Translate(vg.Point{X: 10, Y: 20})
	p.Push()
	p.Rotate(math.Pi / 2)
	p.Scale(2, 3)
	at := p.at(vg.Point{X: 1, Y: 1})
	assert.InDelta(t, 10-3, at.x, 1e-12)
	assert.InDelta(t, 20+2, at.y, 1e-12)
	assert.InDelta(t, 90, p.angle(), 1e-12)
	p.SetLineWidth(4)
	p.Pop()
	assert.Equal(t, point{11, 21}, p.at(vg.Point{X: 1, Y: 1}))
	assert.Equal(t, 1.0, p.width, "the width is saved, too")
	p.SetColor(nil)
	assert.Equal(t, hex("#000000"), p.colour)
}

// A path without a beginning is no reason to fall over.
func TestPathsNeedABeginning(t *testing.T) {
	p := newPencil()
	var path vg.Path
	path.Close()
	path.Line(vg.Point{X: 1})
	path.Move(vg.Point{X: 2})
	path.Line(vg.Point{X: 3})
	var seen []point
	note := func(q point) { seen = append(seen, q) }
	p.walk(path, note, note, func() { t.Error("nothing to close") })
	assert.Equal(t, []point{{2, 0}, {3, 0}}, seen)
}

// A figure goes on any canvas of the library.
func TestFiguresGoOnAnyCanvas(t *testing.T) {
	f := newFigure(Style{}, 50)
	f.write(label{x: 20, y: 20, size: 8, vertical: true, colour: hex("#000000"), text: "upwards"})
	f.rect(box{1, 1, 9, 9}, hex("#FF0000"))
	c := vgsvg.New(vg.Length(f.width), vg.Length(f.height))
	f.Draw(draw.New(c))
	var b bytes.Buffer
	_, err := c.WriteTo(&b)
	require.NoError(t, err)
	for _, want := range []string{"upwards", "rotate", "#FF0000"} {
		assert.Contains(t, b.String(), want)
	}
	assert.Contains(t, string(f.InlineSVG()), `transform="rotate(-90 20 20)"`, "ours turns about the left end")
}
