package plots

import (
	"fmt"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Simulation of complete loss of one cone type on linear sRGB: Machado, Oliveira & Fernandes, IEEE Trans. Vis. Comput.
// Graph. 15 (2009) 1291–1298, severity 1.0 (from memory; each row sums to 1, which is checked).
var machado = map[string][3][3]float64{
	"normal":       {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
}

func seen(c color.NRGBA, m [3][3]float64) (out [3]float64) {
	in := [3]float64{linear(c.R), linear(c.G), linear(c.B)}
	for i := range out {
		for j := range in {
			out[i] += m[i][j] * in[j]
		}
		out[i] = math.Min(1, math.Max(0, out[i]))
	}
	return out
}

// lab converts linear sRGB to CIELAB under D65 (IEC 61966-2-1 and CIE 15, from memory).
func lab(rgb [3]float64) [3]float64 {
	x := (0.4124*rgb[0] + 0.3576*rgb[1] + 0.1805*rgb[2]) / 0.95047
	y := 0.2126*rgb[0] + 0.7152*rgb[1] + 0.0722*rgb[2]
	z := (0.0193*rgb[0] + 0.1192*rgb[1] + 0.9505*rgb[2]) / 1.08883
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return [3]float64{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

func cie76(a, b color.NRGBA, m [3][3]float64) float64 {
	p, q := lab(seen(a, m)), lab(seen(b, m))
	return math.Hypot(math.Hypot(p[0]-q[0], p[1]-q[1]), p[2]-q[2])
}

func TestColourMachinery(t *testing.T) {
	for name, m := range machado {
		for _, row := range m {
			assert.InDelta(t, 1, row[0]+row[1]+row[2], 2e-6, name)
		}
	}
	white, black := hex("#FFFFFF"), hex("#000000")
	assert.InDelta(t, 21, Contrast(white, black), 1e-9, "WCAG 2.2: by definition")
	assert.InDelta(t, 4.54, Contrast(white, hex("#767676")), 0.005, "WCAG: the lightest grey that passes AA on white (common knowledge)")
	assert.InDelta(t, 100, cie76(white, black, machado["normal"]), 0.05, "L* of white is 100")
	assert.InDelta(t, 53.24, lab(seen(hex("#FF0000"), machado["normal"]))[0], 0.05, "L* of sRGB red, textbook value")
}

// The colours stay at least 31 apart, a whole number, for every kind of colour vision.
func TestColoursStayApart(t *testing.T) {
	for name, m := range machado {
		least, pair := math.Inf(1), ""
		for i := range phaseColours {
			for j := range i {
				if d := cie76(hex(phaseColours[i]), hex(phaseColours[j]), m); d < least {
					least, pair = d, phaseColours[i]+" "+phaseColours[j]
				}
			}
		}
		t.Logf("%s: least CIE76 distance %.1f (%s)", name, least, pair)
		assert.GreaterOrEqual(t, math.Round(least), 31.0, name)
	}
}

// Outlines, sticks and hatch lines are told from the paper; texts are readable.
func TestContrast(t *testing.T) {
	for _, dark := range []bool{false, true} {
		s := Style{Dark: dark}
		th := s.theme()
		for i := -1; i < Colours; i++ {
			assert.GreaterOrEqual(t, Contrast(s.paint(i).edge, th.paper), 3.0, "WCAG 1.4.11, colour %d, dark %t", i, dark)
		}
		for name, c := range map[string]color.NRGBA{"ink": th.ink, "quiet": th.quiet, "alarm": th.alarm} {
			assert.GreaterOrEqual(t, Contrast(c, th.paper), 4.5, "WCAG 1.4.3, %s, dark %t", name, dark)
			assert.GreaterOrEqual(t, Contrast(c, th.shade), 4.5, "WCAG 1.4.3, %s on shade, dark %t", name, dark)
		}
	}
}

// In grey a pattern must tell the phases apart, so no two share one.
func TestHatchesDiffer(t *testing.T) {
	all := map[string]int{fmt.Sprint(othersHatch): -1}
	for i, h := range phaseHatches {
		key := fmt.Sprint(h)
		other, taken := all[key]
		require.False(t, taken, "%d and %d", i, other)
		all[key] = i
	}
	assert.Equal(t, PhaseColour(Colours), PhaseColour(-1))
	assert.Equal(t, "#39449C", PhaseColour(0))
}
