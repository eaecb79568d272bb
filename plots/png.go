package plots

import (
	"image"
	"image/draw"

	"git.sr.ht/~sbinet/gg"
	"gonum.org/v1/plot/font"
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
	c := rasterCanvas{vgimg.NewWith(vgimg.UseImageWithContext(img, pen), vgimg.UseDPI(f.dpi))}
	draw.Draw(img, img.Rect, image.NewUniform(f.paper), image.Point{}, draw.Src)
	f.Draw(c)
	return encodePNG(img, f.dpi)
}

// rasterCanvas is that of the library, but strokes long lines in pieces: the rasteriser searches all the cells of a row
// for each new one, so that a noisy line of thousands of points costs a hundred times more in one piece.
type rasterCanvas struct{ *vgimg.Canvas }

// pieceLength is how many points are stroked at once.
const pieceLength = 60

// Stroke draws a line along a path.
func (c rasterCanvas) Stroke(path vg.Path) {
	for _, p := range pieces(path) {
		c.Canvas.Stroke(p)
	}
}

// FillString writes a text from its left end.
func (c rasterCanvas) FillString(f font.Face, pt vg.Point, text string) {
	fillLowered(f, pt, text, c.Canvas.FillString)
}

// pieces cuts a path of open straight lines into parts of about pieceLength points; a cut line shares the point where it
// was cut. Other paths stay whole.
func pieces(path vg.Path) []vg.Path {
	for _, c := range path {
		if c.Type != vg.MoveComp && c.Type != vg.LineComp {
			return []vg.Path{path}
		}
	}
	var out []vg.Path
	var part vg.Path
	for i, c := range path {
		if len(part) > pieceLength {
			out, part = append(out, part), nil
			if c.Type == vg.LineComp {
				part.Move(path[i-1].Pos)
			}
		}
		part = append(part, c)
	}
	return append(out, part)
}
