package plots

import (
	"bytes"
	"image/png"
	"math"

	"golang.org/x/image/font"
	gfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG returns the figure as pixels at the resolution of its medium.
func (f *Figure) PNG() ([]byte, error) {
	c := vgimg.NewWith(vgimg.UseWH(vg.Points(f.width), vg.Points(f.height)), vgimg.UseDPI(f.dpi), vgimg.UseBackgroundColor(f.paper))
	f.draw(c)
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	err := encoder.Encode(&b, c.Image())
	return b.Bytes(), err
}

// draw puts the figure on any canvas of the plotting library, whose origin is at the bottom left.
func (f *Figure) draw(c vg.Canvas) {
	for _, it := range f.items {
		if it.shape != nil {
			f.drawShape(c, it.shape)
		} else {
			f.drawLabel(c, it.label)
		}
	}
}

func (f *Figure) at(p point) vg.Point {
	return vg.Point{X: vg.Length(p.x), Y: vg.Length(f.height - p.y)}
}

func (f *Figure) drawShape(c vg.Canvas, s *shape) {
	var path vg.Path
	for _, run := range s.runs {
		path.Move(f.at(run[0]))
		for _, p := range run[1:] {
			path.Line(f.at(p))
		}
		if s.closed {
			path.Close()
		}
	}
	if s.fill.A > 0 {
		c.SetColor(s.fill)
		c.Fill(path)
	}
	if s.stroke.A > 0 {
		dashes := make([]vg.Length, len(s.dash))
		for i, d := range s.dash {
			dashes[i] = vg.Length(d)
		}
		c.SetColor(s.stroke)
		c.SetLineWidth(vg.Length(s.width))
		c.SetLineDash(dashes, 0)
		c.Stroke(path)
	}
}

func (f *Figure) drawLabel(c vg.Canvas, l *label) {
	weight := font.WeightNormal
	if l.bold {
		weight = font.WeightBold
	}
	letters := gfont.Face{Font: gfont.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight, Size: vg.Length(l.size)}, Face: face(l.bold).font}
	c.SetColor(l.colour)
	b := l.box()
	if !l.vertical {
		c.FillString(letters, f.at(point{b.left, l.y}), l.text)
		return
	}
	c.Push()
	c.Translate(f.at(point{l.x, b.bottom}))
	c.Rotate(math.Pi / 2)
	c.FillString(letters, vg.Point{}, l.text)
	c.Pop()
}
