package plots

import (
	"bytes"
	"slices"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// PDF returns the figure as a one-page document of its own size with the letters it uses embedded and no date, so that
// identical figures are identical files.
func (f *Figure) PDF() ([]byte, error) {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: f.width, Ht: f.height}})
	never := time.Unix(0, 0).UTC()
	doc.SetCreationDate(never)
	doc.SetModificationDate(never)
	doc.SetCatalogSort(true)
	doc.SetProducer("phasetally", false)
	doc.SetTitle(clean(f.title), true)
	doc.SetSubject(clean(f.about), true)
	doc.SetLang(f.language)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.AddUTF8FontFromBytes("figure", "", slices.Clone(face(false).data))
	doc.AddUTF8FontFromBytes("figure", "B", slices.Clone(face(true).data))
	doc.AddPage()
	doc.SetFillColor(int(f.paper.R), int(f.paper.G), int(f.paper.B))
	doc.Rect(0, 0, f.width, f.height, "F")
	doc.SetLineJoinStyle("round")
	f.Draw(&pdfCanvas{newPencil(), doc, f.height})
	var b bytes.Buffer
	err := doc.Output(&b)
	return b.Bytes(), err
}

// pdfCanvas draws on a document of ours, since that of the library carries a date, whole fonts in an eight-bit code
// without Greek letters, and no title.
type pdfCanvas struct {
	pencil
	doc    *fpdf.Fpdf
	height float64
}

// Fill paints an area.
func (c *pdfCanvas) Fill(path vg.Path) {
	c.doc.SetFillColor(int(c.colour.R), int(c.colour.G), int(c.colour.B))
	c.path(path, "F")
}

// Stroke draws a line along a path.
func (c *pdfCanvas) Stroke(path vg.Path) {
	if !(c.width > 0) {
		return
	}
	c.doc.SetDrawColor(int(c.colour.R), int(c.colour.G), int(c.colour.B))
	c.doc.SetLineWidth(c.width)
	c.doc.SetDashPattern(c.dash, 0)
	c.path(path, "D")
}

func (c *pdfCanvas) path(path vg.Path, how string) {
	c.doc.SetAlpha(float64(c.colour.A)/255, "Normal")
	c.walk(path, func(p point) { c.doc.MoveTo(p.x, c.height-p.y) }, func(p point) { c.doc.LineTo(p.x, c.height-p.y) }, c.doc.ClosePath)
	c.doc.DrawPath(how)
}

// FillString writes a text from its left end.
func (c *pdfCanvas) FillString(f font.Face, pt vg.Point, text string) {
	fillLowered(f, pt, text, c.fillPiece)
}

func (c *pdfCanvas) fillPiece(f font.Face, pt vg.Point, text string) {
	weight := ""
	if isBold(f.Font) {
		weight = "B"
	}
	c.doc.SetAlpha(float64(c.colour.A)/255, "Normal")
	c.doc.SetFont("figure", weight, f.Font.Size.Points())
	c.doc.SetTextColor(int(c.colour.R), int(c.colour.G), int(c.colour.B))
	at, turned := c.at(pt), c.angle()
	if turned != 0 {
		c.doc.TransformBegin()
		defer c.doc.TransformEnd()
		c.doc.TransformRotate(turned, at.x, c.height-at.y)
	}
	c.doc.Text(at.x, c.height-at.y, text)
}
