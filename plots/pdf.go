package plots

import (
	"bytes"
	"image/color"
	"slices"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// PDF returns the figure as a one-page document of its own size with the letters it uses embedded and no date, so that
// identical figures are identical files.
func (f *Figure) PDF() ([]byte, error) {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: f.width, Ht: f.height}})
	never := time.Unix(0, 0).UTC()
	doc.SetCreationDate(never)
	doc.SetModificationDate(never)
	doc.SetCatalogSort(true)
	doc.SetProducer("phasetally", true)
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
	for _, it := range f.items {
		if it.shape != nil {
			pdfShape(doc, it.shape)
		} else {
			pdfLabel(doc, it.label)
		}
	}
	var b bytes.Buffer
	err := doc.Output(&b)
	return b.Bytes(), err
}

func pdfShape(doc *fpdf.Fpdf, s *shape) {
	if s.fill.A > 0 {
		doc.SetFillColor(int(s.fill.R), int(s.fill.G), int(s.fill.B))
		pdfPath(doc, s, s.fill, "F")
	}
	if s.stroke.A > 0 {
		doc.SetDrawColor(int(s.stroke.R), int(s.stroke.G), int(s.stroke.B))
		doc.SetLineWidth(s.width)
		doc.SetDashPattern(s.dash, 0)
		pdfPath(doc, s, s.stroke, "D")
	}
}

func pdfPath(doc *fpdf.Fpdf, s *shape, c color.NRGBA, how string) {
	doc.SetAlpha(float64(c.A)/255, "Normal")
	for _, run := range s.runs {
		doc.MoveTo(run[0].x, run[0].y)
		for _, p := range run[1:] {
			doc.LineTo(p.x, p.y)
		}
		if s.closed {
			doc.ClosePath()
		}
	}
	doc.DrawPath(how)
}

func pdfLabel(doc *fpdf.Fpdf, l *label) {
	weight := ""
	if l.bold {
		weight = "B"
	}
	doc.SetAlpha(1, "Normal")
	doc.SetFont("figure", weight, l.size)
	doc.SetTextColor(int(l.colour.R), int(l.colour.G), int(l.colour.B))
	b := l.box()
	if !l.vertical {
		doc.Text(b.left, l.y, l.text)
		return
	}
	doc.TransformBegin()
	doc.TransformRotate(90, l.x, b.bottom)
	doc.Text(l.x, b.bottom, l.text)
	doc.TransformEnd()
}
