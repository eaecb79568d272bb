package plots

import (
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	gfont "gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// typeface is one parsed font with a table of its advance widths.
type typeface struct {
	data []byte
	font *opentype.Font
	mu   sync.Mutex
	buf  sfnt.Buffer
	adv  map[rune]float64 // in units of the font size; negative: no glyph
}

// A font is parsed once, on first use; it never changes afterwards.
var (
	regular = sync.OnceValue(func() *typeface { return parseFont(liberationsansregular.TTF) })
	heavy   = sync.OnceValue(func() *typeface { return parseFont(liberationsansbold.TTF) })
)

// parseFont panics on a broken font: it is compiled in, so only a broken build can cause it.
func parseFont(data []byte) *typeface {
	f, err := opentype.Parse(data)
	if err != nil {
		panic("plots: embedded font: " + err.Error())
	}
	return &typeface{data: data, font: f, adv: map[rune]float64{}}
}

func face(bold bool) *typeface {
	if bold {
		return heavy()
	}
	return regular()
}

func (t *typeface) advance(r rune) float64 {
	if digit, low := lowDigit(r); low {
		return lowScale * t.advance(digit)
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if a, ok := t.adv[r]; ok {
		return a
	}
	a := -1.0
	em := t.font.UnitsPerEm()
	if g, err := t.font.GlyphIndex(&t.buf, r); err == nil && g != 0 {
		if w, err := t.font.GlyphAdvance(&t.buf, g, fixed.Int26_6(em), 0); err == nil {
			a = float64(w) / float64(em)
		}
	}
	t.adv[r] = a
	return a
}

// letters is a weight of the font at a size in points, as canvases take it.
func letters(bold bool, size float64) gfont.Face {
	f := gfont.Font{Typeface: "Liberation", Variant: "Sans", Weight: font.WeightNormal, Size: vg.Length(size)}
	if bold {
		f.Weight = font.WeightBold
	}
	return gfont.Face{Font: f, Face: face(bold).font}
}

func isBold(f gfont.Font) bool { return f.Weight > font.WeightMedium }

// hasGlyph also refuses what lies beyond the basic plane, which the PDF fonts cannot address.
func hasGlyph(r rune) bool { return r < 0x10000 && face(false).advance(r) >= 0 }

// textWidth returns the width of a text in points, kerning left out.
func textWidth(s string, size float64, bold bool) float64 {
	w := 0.0
	for _, r := range s {
		w += max(0, face(bold).advance(r))
	}
	return w * size
}
