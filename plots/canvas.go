package plots

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
)

// A state is what a canvas remembers between calls. The matrix maps what is drawn to points from the lower left corner:
// x' = m[0] x + m[1] y + m[2], y' = m[3] x + m[4] y + m[5].
type state struct {
	m      [6]float64
	colour color.NRGBA
	width  float64
	dash   []float64
}

// A pencil keeps the state that vg.Canvas asks for, as far as a figure uses it; back ends add how they fill, stroke and write.
type pencil struct {
	state
	saved []state
}

func newPencil() pencil {
	return pencil{state: state{m: [6]float64{1, 0, 0, 0, 1, 0}, colour: color.NRGBA{A: 255}, width: 1}}
}

// SetLineWidth, SetLineDash and SetColor set how further paths are drawn.
func (p *pencil) SetLineWidth(w vg.Length) { p.width = w.Points() }

// SetLineDash sets lengths of dashes and gaps; the offset is always 0 here.
func (p *pencil) SetLineDash(pattern []vg.Length, _ vg.Length) {
	p.dash = nil
	for _, d := range pattern {
		p.dash = append(p.dash, d.Points())
	}
}

// SetColor sets the colour of areas, lines and letters; nil is black.
func (p *pencil) SetColor(c color.Color) {
	p.colour = color.NRGBA{A: 255}
	if c != nil {
		p.colour = color.NRGBAModel.Convert(c).(color.NRGBA)
	}
}

func (p *pencil) times(b [6]float64) {
	a := p.m
	p.m = [6]float64{a[0]*b[0] + a[1]*b[3], a[0]*b[1] + a[1]*b[4], a[0]*b[2] + a[1]*b[5] + a[2],
		a[3]*b[0] + a[4]*b[3], a[3]*b[1] + a[4]*b[4], a[3]*b[2] + a[4]*b[5] + a[5]}
}

// Rotate turns what follows by an angle in radians, counter-clockwise.
func (p *pencil) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	p.times([6]float64{cos, -sin, 0, sin, cos, 0})
}

// Translate moves what follows.
func (p *pencil) Translate(pt vg.Point) {
	p.times([6]float64{1, 0, pt.X.Points(), 0, 1, pt.Y.Points()})
}

// Scale stretches places that follow; widths of lines and sizes of letters stay.
func (p *pencil) Scale(x, y float64) { p.times([6]float64{x, 0, 0, 0, y, 0}) }

// Push keeps the state until Pop.
func (p *pencil) Push() { p.saved = append(p.saved, p.state) }

// Pop goes back to the state of the last Push.
func (p *pencil) Pop() {
	last := len(p.saved) - 1
	p.state, p.saved = p.saved[last], p.saved[:last]
}

// DrawImage does nothing: no figure of this package has images.
func (p *pencil) DrawImage(vg.Rectangle, image.Image) {}

func (p *pencil) at(q vg.Point) point {
	x, y := q.X.Points(), q.Y.Points()
	return point{p.m[0]*x + p.m[1]*y + p.m[2], p.m[3]*x + p.m[4]*y + p.m[5]}
}

// angle is how far letters are turned, degrees counter-clockwise.
func (p *pencil) angle() float64 { return math.Atan2(p.m[3], p.m[0]) * 180 / math.Pi }

// walk goes along a path of straight lines, the only ones that figures record; what comes before the first move is left out.
func (p *pencil) walk(path vg.Path, move, line func(point), end func()) {
	begun := false
	for _, c := range path {
		switch {
		case c.Type == vg.MoveComp:
			begun = true
			move(p.at(c.Pos))
		case !begun:
		case c.Type == vg.CloseComp:
			end()
		default:
			line(p.at(c.Pos))
		}
	}
}
