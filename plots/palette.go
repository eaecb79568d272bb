package plots

import (
	"fmt"
	"image/color"
	"math"
)

// Colours is the number of phases that get a colour and a fill pattern of their own; further ones are grouped.
const Colours = 7

// hatch is a fill pattern: families of parallel lines, given by slope angle (degrees) and spacing in units of the
// pattern's pitch, so that a phase is told from its neighbours without any colour.
type hatch struct {
	angles []float64
	pitch  float64
	dash   bool
}

// A paint is how one phase looks everywhere.
type paint struct {
	fill  color.NRGBA // areas and bars
	edge  color.NRGBA // outlines, sticks and hatch lines: at least 3:1 against the paper
	hatch hatch
}

// The colours are at least 31 apart (CIE76, to the whole number; the least is 30.7) in normal vision and in the three kinds
// of colour blindness.
var phaseColours = [Colours]string{"#39449C", "#CD6196", "#8F7000", "#27A7FB", "#6A1744", "#97AA71", "#3A3300"}

var phaseHatches = [Colours]hatch{
	{angles: []float64{45}, pitch: 1},
	{angles: []float64{-45}, pitch: 1},
	{angles: []float64{0}, pitch: 0.8},
	{angles: []float64{45, -45}, pitch: 1.4},
	{angles: []float64{0}, pitch: 1, dash: true},
	{angles: []float64{20}, pitch: 1},
	{angles: []float64{0, 60, -60}, pitch: 1.7},
}

var othersHatch = hatch{angles: []float64{-20}, pitch: 1.6, dash: true}

// PhaseColour returns the colour of the phase with number i (see Slots) as #RRGGBB; every phase from Colours on shares
// one grey, as the figures group them.
func PhaseColour(i int) string {
	if i < 0 || i >= Colours {
		return "#7B858D"
	}
	return phaseColours[i]
}

// PhaseEdge returns the colour of a phase's outlines and sticks on the paper of a style, as #RRGGBB.
func (s Style) PhaseEdge(i int) string {
	e := s.paint(i).edge
	return fmt.Sprintf("#%02X%02X%02X", e.R, e.G, e.B)
}

func (s Style) paint(i int) paint {
	h := othersHatch
	if i >= 0 && i < Colours {
		h = phaseHatches[i]
	}
	fill := hex(PhaseColour(i))
	return paint{fill, legible(fill, s.theme().paper, 3), h}
}

// legible moves a colour towards black or white, whichever is away from the paper, until its contrast is enough.
func legible(c, paper color.NRGBA, contrast float64) color.NRGBA {
	away := color.NRGBA{255, 255, 255, 255}
	if luminance(paper) > 0.18 {
		away = color.NRGBA{0, 0, 0, 255}
	}
	out := c
	for step := 1; step <= 20 && Contrast(out, paper) < contrast; step++ {
		out = mix(c, away, float64(step)/20)
	}
	return out
}

// mix returns (1 − share) a + share b, opaque.
func mix(a, b color.NRGBA, share float64) color.NRGBA {
	m := func(x, y uint8) uint8 { return uint8(math.Round((1-share)*float64(x) + share*float64(y))) }
	return color.NRGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 255}
}

func withAlpha(c color.NRGBA, a float64) color.NRGBA {
	c.A = uint8(math.Round(255 * a))
	return c
}

// Contrast returns the WCAG 2.2 contrast ratio of two opaque colours, 1 to 21: (L1 + 0.05)/(L2 + 0.05) with relative
// luminances L1 ≥ L2 (from memory).
func Contrast(a, b color.NRGBA) float64 {
	la, lb := luminance(a), luminance(b)
	return (math.Max(la, lb) + 0.05) / (math.Min(la, lb) + 0.05)
}

// luminance is the relative luminance of WCAG 2.2, 0 to 1.
func luminance(c color.NRGBA) float64 {
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

// linear undoes the sRGB transfer curve (IEC 61966-2-1, from memory).
func linear(v uint8) float64 {
	x := float64(v) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}
