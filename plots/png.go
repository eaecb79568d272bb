package plots

import (
	"image"
	"image/draw"
	"math"

	"git.sr.ht/~sbinet/gg"
	"golang.org/x/image/font"
	gfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG returns the figure as pixels at the resolution of its medium.
func (f *Figure) PNG() ([]byte, error) {
	dots := float64(f.dpi) / 72
	img := image.NewRGBA(image.Rect(0, 0, int(f.width*dots+0.5), int(f.height*dots+0.5)))
	pen := gg.NewContextForRGBA(img) // a canvas that makes its own image copies it pixel by pixel
	pen.SetLineCapButt()
	pen.InvertY()
	c := vgimg.NewWith(vgimg.UseImageWithContext(img, pen), vgimg.UseDPI(f.dpi))
	draw.Draw(img, img.Rect, image.NewUniform(f.paper), image.Point{}, draw.Src)
	f.draw(c)
	return encodePNG(img, f.dpi)
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
	if s.fill.A > 0 {
		c.SetColor(s.fill)
		c.Fill(f.path(s.runs, s.closed))
	}
	if s.stroke.A > 0 {
		dashes := make([]vg.Length, len(s.dash))
		for i, d := range s.dash {
			dashes[i] = vg.Length(d)
		}
		c.SetColor(s.stroke)
		c.SetLineWidth(vg.Length(s.width))
		c.SetLineDash(dashes, 0)
		parts := [][][]point{s.runs}
		if !s.closed {
			parts = pieces(s.runs)
		}
		for _, part := range parts {
			c.Stroke(f.path(part, s.closed))
		}
	}
}

func (f *Figure) path(runs [][]point, closed bool) vg.Path {
	var path vg.Path
	for _, run := range runs {
		path.Move(f.at(run[0]))
		for _, p := range run[1:] {
			path.Line(f.at(p))
		}
		if closed {
			path.Close()
		}
	}
	return path
}

// pieceLength is how many points are stroked at once: the rasteriser searches all the cells of a row for each new one,
// so that a noisy line of thousands of points costs a hundred times more in one piece.
const pieceLength = 60

// pieces cuts runs into parts of about pieceLength points; a cut run shares the point where it was cut.
func pieces(runs [][]point) [][][]point {
	var out [][][]point
	var part [][]point
	size := 0
	for _, run := range runs {
		for len(run) > 1 {
			n := min(len(run), pieceLength+1)
			part, size = append(part, run[:n]), size+n
			run = run[n-1:]
			if size >= pieceLength {
				out, part, size = append(out, part), nil, 0
			}
		}
	}
	if part != nil {
		out = append(out, part)
	}
	return out
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
