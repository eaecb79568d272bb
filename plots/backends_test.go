package plots

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// A drawn is a path or a text as it stands in an SVG.
type drawn struct {
	runs         [][]point
	closed       bool
	fill, stroke string
	opacity      float64
	width        float64
	text         string
	at           point
	bold         bool
}

var svgNumber = regexp.MustCompile(`-?(?:\d+\.?\d*|\.\d+)`)

// readPath reads a path of M, l and z in an SVG (SVG 1.1, 8.3: l takes steps from the point before).
func readPath(t *testing.T, d string) (runs [][]point, closed bool) {
	t.Helper()
	for _, part := range strings.Split(d, "M")[1:] {
		move, steps, ok := strings.Cut(part, "l")
		require.True(t, ok, "a run without steps: %q", part)
		var numbers []float64
		for _, s := range append(svgNumber.FindAllString(move, -1), svgNumber.FindAllString(steps, -1)...) {
			v, err := strconv.ParseFloat(s, 64)
			require.NoError(t, err)
			numbers = append(numbers, v)
		}
		require.Zero(t, len(numbers)%2, "pairs: %q", part)
		run := []point{{numbers[0], numbers[1]}}
		for i := 2; i < len(numbers); i += 2 {
			last := run[len(run)-1]
			run = append(run, point{last.x + numbers[i], last.y + numbers[i+1]})
		}
		runs = append(runs, run)
		closed = closed || strings.HasSuffix(steps, "z")
	}
	return runs, closed
}

// readSVG reads what an SVG draws, its paper left out.
func readSVG(t *testing.T, svg []byte) (out []drawn) {
	t.Helper()
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err, s)
		return v
	}
	open, depth := -1, 0
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		switch x := token.(type) {
		case xml.StartElement:
			if x.Name.Local != "path" && x.Name.Local != "text" {
				depth++
				continue
			}
			one := drawn{opacity: 1}
			for _, a := range x.Attr {
				switch a.Name.Local {
				case "d":
					one.runs, one.closed = readPath(t, a.Value)
				case "fill":
					one.fill = a.Value
				case "stroke":
					one.stroke = a.Value
				case "fill-opacity", "stroke-opacity":
					one.opacity = number(a.Value)
				case "stroke-width":
					one.width = number(a.Value)
				case "x":
					one.at.x = number(a.Value)
				case "y":
					one.at.y = number(a.Value)
				case "font-weight":
					one.bold = a.Value == "700"
				}
			}
			out = append(out, one)
			if x.Name.Local == "text" {
				open = len(out) - 1
			}
		case xml.CharData:
			if open >= 0 {
				out[open].text += string(x)
			}
		case xml.EndElement:
			if x.Name.Local == "text" {
				open = -1
			}
		}
	}
}

// The SVG of a figure has every area, line and text that was drawn, in their order, each point within a hundredth of its place, in its colour and width:
// rounding does not add up along a curve of thousands of steps.
func TestSVGIsWhatWasDrawn(t *testing.T) {
	for name, f := range allFigures(t, resulttest.Mixture(1), Style{}) {
		svg, err := f.SVG()
		require.NoError(t, err)
		var want []item
		for _, it := range items(f) {
			if it.label != nil || len(it.shape.runs) > 0 {
				want = append(want, it)
			}
		}
		got := readSVG(t, svg)
		require.Len(t, got, len(want), name)
		for i, it := range want {
			g := got[i]
			if it.label != nil {
				plain := strings.Map(func(r rune) rune { d, low := lowDigit(r); return map[bool]rune{true: d, false: r}[low] }, it.label.text)
				require.Equal(t, plain, g.text, name)
				require.InDelta(t, it.label.x, g.at.x, 0.0051, name)
				require.InDelta(t, it.label.y, g.at.y, 0.0051, name)
				require.Equal(t, it.label.bold, g.bold, name)
				require.Equal(t, rgb(it.label.colour), g.fill, name)
				continue
			}
			require.Len(t, g.runs, len(it.shape.runs), name)
			for k, run := range it.shape.runs {
				require.Len(t, g.runs[k], len(run), name)
				for j, p := range run {
					require.InDelta(t, p.x, g.runs[k][j].x, 0.0051, name)
					require.InDelta(t, p.y, g.runs[k][j].y, 0.0051, name)
				}
			}
			require.Equal(t, it.shape.closed, g.closed, name)
			colour := it.shape.fill
			if colour.A == 0 {
				colour = it.shape.stroke
				require.Equal(t, rgb(colour), g.stroke, name)
				require.Greater(t, g.width, 0.0, name)
			} else {
				require.Equal(t, rgb(colour), g.fill, name)
			}
			require.InDelta(t, float64(colour.A)/255, g.opacity, 0.0051, name)
		}
	}
}

// Numbers of an SVG have at most two decimals and no leading zero, and are read back within half of the last one.
func TestShortNumbers(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 0.004: "0", -0.004: "0", 0.25: ".25", -0.5: "-.5", 3: "3", 12.345: "12.35", -12.344: "-12.34", 100: "100", 0.1: ".1"} {
		assert.Equal(t, want, num(v))
	}
	for v := -30.0; v < 30; v += 0.0137 {
		got, err := strconv.ParseFloat(num(v), 64)
		require.NoError(t, err)
		assert.InDelta(t, v, got, 0.0050001)
	}
}

// operators counts the operators of the page of a PDF that paint: f fills, S strokes, Tj writes (ISO 32000-1, tables 60 and 109).
func operators(t *testing.T, file []byte) (fills, strokes, texts int) {
	t.Helper()
	for _, part := range bytes.Split(file, []byte("stream\n"))[1:] {
		z, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue
		}
		content, err := io.ReadAll(z)
		if err != nil || !bytes.Contains(content, []byte(" Tf")) && !bytes.Contains(content, []byte(" re f")) {
			continue
		}
		for line := range strings.Lines(string(content)) {
			switch line = strings.TrimSpace(line); {
			case line == "f" || strings.HasSuffix(line, " f"):
				fills++
			case line == "S" || strings.HasSuffix(line, " S"):
				strokes++
			}
			texts += strings.Count(line, "Tj")
		}
	}
	return fills, strokes, texts
}

// The PDF of a figure paints as often as the figure was drawn on: its paper, every area, every line, and every piece of text.
func TestPDFIsWhatWasDrawn(t *testing.T) {
	for name, f := range allFigures(t, resulttest.Mixture(1), Style{}) {
		data, err := f.PDF()
		require.NoError(t, err)
		areas, lines, pieces := 1, 0, 0 // the paper
		for _, it := range items(f) {
			switch {
			case it.label != nil:
				loweredPieces(it.label.text, func(string, bool) { pieces++ })
			case it.shape.fill.A > 0:
				areas++
			default:
				lines++
			}
		}
		fills, strokes, texts := operators(t, data)
		assert.Equal(t, areas, fills, name)
		assert.Equal(t, lines, strokes, name)
		assert.Equal(t, pieces, texts, name)
		assert.Contains(t, string(data), "/Subject", name)
	}
}

// On top of a pattern stand spacings at the angles that Bragg's law gives them, each a round one, apart from each other.
func TestSpacingsStandAtTheirAngles(t *testing.T) {
	for _, radiation := range []string{"Cu", "Mo", "Cr"} {
		r, err := xrd.ParseRadiation(radiation)
		require.NoError(t, err)
		a := resulttest.Mixture(1)
		a.Document.Scan.Wavelength, a.Document.Scan.Radiation = r.KAlpha1, radiation
		p, err := newPatternPlot(a, Style{}, PatternOptions{Lo: 15, Hi: 120})
		require.NoError(t, err)
		p.layout()
		before := len(items(p.Figure))
		p.topAxis()
		var last []box
		named := 0
		var ticks []float64
		for _, it := range items(p.Figure)[before:] {
			if it.shape != nil && len(it.shape.runs) == 1 && len(it.shape.runs[0]) == 2 && it.shape.runs[0][0].x == it.shape.runs[0][1].x {
				ticks = append(ticks, it.shape.runs[0][0].x)
			}
			if it.label == nil || it.label.text == p.w.DSpacing {
				continue
			}
			d, err := strconv.ParseFloat(it.label.text, 64)
			require.NoError(t, err)
			at, ok := xrd.TwoTheta(d, r.KAlpha1)
			require.True(t, ok)
			b := it.label.box()
			assert.InDelta(t, p.x.at(at), (b.left+b.right)/2, 0.01, "%g Å with %s", d, radiation)
			assert.Contains(t, spacings, d)
			assert.False(t, meetsAny(b, last), "%g Å", d)
			last = append(last, b)
			named++
		}
		assert.GreaterOrEqual(t, named, 4, radiation)
		assert.GreaterOrEqual(t, len(ticks), named, "a mark each")
	}
	seen := map[float64]bool{}
	for _, d := range spacings { // round: one or two digits
		assert.False(t, seen[d], "%g twice", d)
		seen[d] = true
		short := fmt.Sprintf("%.2g", d)
		back, err := strconv.ParseFloat(short, 64)
		require.NoError(t, err)
		assert.InDelta(t, d, back, 1e-12, "%g is not round", d)
	}
}

// The drawings of a footprint stand below each other at equal distances, outlines around beams, and the axis below all of them.
func TestFootprintRowsStandApart(t *testing.T) {
	length := 10.0
	p := result.Plan{Specimen: result.PlannedSpecimen{LengthMM: &length}}
	for at := 20.0; at < 80; at += 10 {
		p.Footprint.Rows = append(p.Footprint.Rows, result.FootprintRow{TwoTheta: at, LengthMM: 400 / at, Share: 0.9})
	}
	s := Style{}
	f := FootprintFigure(p, s)
	outlines, beams := areas(items(f), s.theme().shade), areas(items(f), s.theme().alarm)
	require.Len(t, outlines, 6)
	require.Len(t, beams, 6)
	pitch := extentOf(outlines[1]).top - extentOf(outlines[0]).top
	assert.Greater(t, extentOf(outlines[0]).top, 1.35*s.measure().text, "below the title")
	for k := range outlines {
		o, b := extentOf(outlines[k]), extentOf(beams[k])
		assert.InDelta(t, extentOf(outlines[0]).top+pitch*float64(k), o.top, 1e-9)
		assert.True(t, o.top < b.top && b.bottom < o.bottom, "the beam is narrower than the drawing")
		assert.InDelta(t, (o.top+o.bottom)/2, (b.top+b.bottom)/2, 1e-9)
		assert.True(t, k == 0 || extentOf(outlines[k-1]).bottom < o.top, "apart")
		assert.InDelta(t, (o.left+o.right)/2, (b.left+b.right)/2, 1e-9, "about the middle")
	}
	foot := extentOf(outlines[5]).bottom
	for _, it := range items(f) {
		if it.label != nil && (it.label.text == "0" || it.label.text == English.FootprintAxis) {
			assert.Greater(t, it.label.y-it.label.size, foot-0.1)
		}
	}
	_, height := f.Size()
	assert.Less(t, foot, height)
}

// Panels of reference lines share the height, stand below each other, and leave the axis its room.
func TestPanelsOfSticks(t *testing.T) {
	for _, n := range []int{1, 2, 5, 12} {
		var phases []refdata.Phase
		for i := range n {
			phases = append(phases, reference(t, fmt.Sprintf("phase %d", i), stick(30, 100, 1, 1, 1), stick(60, 1.9, 2, 2, 0), stick(50, 2.1, 2, 2, 2), stick(68, 1, 3, 1, 1)))
		}
		f, err := Sticks(phases, Style{})
		require.NoError(t, err)
		var feet []float64
		lowest := 0.0
		for _, it := range items(f) {
			if it.shape != nil && len(it.shape.runs) == 1 && len(it.shape.runs[0]) == 2 && it.shape.stroke == (Style{}).theme().grid {
				feet = append(feet, it.shape.runs[0][0].y)
			}
			if it.label != nil && strings.HasPrefix(it.label.text, "2θ") {
				lowest = it.label.y
			}
		}
		require.Len(t, feet, n)
		for k := 1; k < n; k++ {
			assert.InDelta(t, feet[1]-feet[0], feet[k]-feet[k-1], 1e-9, "%d panels", n)
			assert.GreaterOrEqual(t, feet[k]-feet[k-1], 9*(Style{}).measure().small-1e-9, "none is too low to be read")
		}
		assert.Greater(t, lowest, feet[n-1])
		_, height := f.Size()
		assert.Less(t, lowest, height)
		assert.Contains(t, f.Texts(), "2 2 2", "2.1 % of the strongest has room for its indices")
		assert.NotContains(t, f.Texts(), "2 2 0", "1.9 % is too weak")
	}
}

// What a calibration says to those who cannot see it has the number of lines and the range.
func TestCalibrationInWords(t *testing.T) {
	c := result.Calibration{Standard: "silicon", Range: [2]float64{25.5, 119}, Lines: make([]result.CalibrationLine, 7)}
	f, err := Calibration(c, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Description(), "7")
	assert.Contains(t, f.Description(), "25.5")
	assert.Contains(t, f.Description(), "119")
	assert.Less(t, strings.Index(f.Description(), "25.5"), strings.Index(f.Description(), "119"), "from low to high")
}

// A difference of two scans counts as a change from three standard uncertainties of both on, whatever they were counted in.
func TestDifferencesAreJudgedByBothScans(t *testing.T) {
	a, b := twoPhases(), twoPhases()
	for i := range b.Curves.Observed {
		a.Curves.Sigma[i], b.Curves.Sigma[i] = 3, 4 // √(3² + 4²) = 5
		b.Curves.Observed[i] += 7
	}
	p, err := newStackPlot([]Trace{{"a", a}, {"b", b}}, Style{}, StackOptions{})
	require.NoError(t, err)
	list := p.subtract(p.traces[1], p.traces[0])
	require.Len(t, list, 401)
	for _, d := range list {
		require.InDelta(t, 7*p.traces[0].scale, d.value, 1e-9)
		require.InDelta(t, 5*p.traces[0].scale, d.u, 1e-9)
		require.Equal(t, len(p.groups), d.group, "7 of 5 is no change of a phase")
	}
	// The same scans, one counted ten times as long: intensities per second, and what is sure, are those of before.
	assert.InDelta(t, p.traces[0].scale, p.traces[1].scale, 1e-12)
	assert.True(t, math.Abs(p.traces[0].scale) > 0)
}

// Bands of a span are as high as the bars that they go on.
func TestSpansAreAsHighAsTheirBars(t *testing.T) {
	doc := twoPhases().Document
	doc.Absorption = result.AbsorptionLimits
	doc.Phases[0].CoarseLimitWeightPercent, doc.Phases[1].CoarseLimitWeightPercent = value(80), value(20)
	p := NewBars(doc, Style{})
	got := drawnOn(p, [2]float64{0, 100}, [2]float64{-0.5, 1.5})
	solid, band := extentOf(areas(got, withAlpha(p.bars[0].paint.fill, 0.55))...), extentOf(areas(got, withAlpha(p.bars[0].paint.fill, 0.3))...)
	assert.InDelta(t, solid.top, band.top, 1e-9)
	assert.InDelta(t, solid.bottom, band.bottom, 1e-9)
	assert.InDelta(t, 25, (band.top+band.bottom)/2, 1e-9)
	ends := 0
	for _, r := range strokes(got, p.th.ink) {
		if len(r) == 2 && r[0].x == r[1].x && r[0].y != r[1].y {
			ends++
		}
	}
	assert.GreaterOrEqual(t, ends, 2, "its limits are marked")
}
