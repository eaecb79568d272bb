package plots_test

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"hash/crc32"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// plannedScan is an invented plan of the phases of the mixture.
func plannedScan() result.Plan {
	p := result.Plan{Drawn: resulttest.Mixture(1), Specimen: result.PlannedSpecimen{LayerUM: number(3), LengthMM: number(10)}}
	for k, ph := range p.Drawn.Document.Phases {
		p.Phases = append(p.Phases, result.PlannedPhase{ID: ph.ID, Name: ph.Name, DepthUM: [3]float64{1 + float64(k), 5 + float64(k), 9 + float64(k)}})
	}
	for at := 20.0; at <= 140; at += 10 {
		p.Footprint.Rows = append(p.Footprint.Rows, result.FootprintRow{TwoTheta: at, LengthMM: 3.5 / math.Sin(at*math.Pi/360), Share: math.Min(1, 10/(3.5/math.Sin(at*math.Pi/360)))})
	}
	return p
}

// calibrated is an invented calibration with a silicon-like standard.
func calibrated() result.Calibration {
	r := result.Calibration{Standard: "silicon", Range: [2]float64{20, 120}}
	r.Radiation, _ = xrd.ParseRadiation("Cu")
	for at := 28.0; at < 120; at += 15 {
		r.Lines = append(r.Lines, result.CalibrationLine{H: 1, K: 1, L: 1, D: 2, Certified: at, Observed: at + 0.01, ObservedU: 0.001, Delta: 0.01, Fitted: 0.009, FittedU: 0.001, FWHM: 0.08 + at/2000, FWHMU: 0.002, CurveFWHM: 0.08 + at/2000})
	}
	for at := 20.0; at <= 120; at += 5 {
		r.Curve = append(r.Curve, result.CalibrationPoint{TwoTheta: at, FWHM: 0.08 + at/2000, FWHMU: 0.001, Eta: 0.5, Shift: 0.009, ShiftU: 0.001})
	}
	return r
}

// everyFigure draws one of each kind in a style.
func everyFigure(t testing.TB, s plots.Style) map[string]*plots.Figure {
	t.Helper()
	out := map[string]*plots.Figure{}
	keep := func(name string) func(*plots.Figure, error) {
		return func(f *plots.Figure, err error) {
			require.NoError(t, err, name)
			out[name] = f
		}
	}
	r := resulttest.Mixture(1)
	list := []plots.Trace{{Name: "first", Result: r}, {Name: "second", Result: resulttest.Mixture(2)}}
	keep("pattern")(plots.Pattern(r, s, plots.PatternOptions{}))
	keep("fractions")(plots.Fractions(r.Document, s))
	keep("budget")(plots.Budget(r.Document, s))
	keep("evidence")(plots.Evidence(r.Document, "zincite", s))
	keep("planned")(plots.PlannedPattern(plannedScan(), s))
	keep("calibration")(plots.Calibration(calibrated(), s))
	keep("stack")(plots.Stack(list, s, plots.StackOptions{}))
	keep("difference")(plots.Difference(list, s, plots.StackOptions{}))
	keep("trend")(plots.Trend(resulttest.Series(7), s))
	keep("sticks")(plots.Sticks([]refdata.Phase{{ID: "x", Name: "x", Formula: "Al2O3", Lines: []refdata.Line{{TwoTheta: 30, Intensity: 100}, {TwoTheta: 50, Intensity: 20}}}}, s))
	out["depths"], out["footprint"] = plots.Depths(plannedScan(), s), plots.FootprintFigure(plannedScan(), s)
	return out
}

// Who cannot see a figure is told what it is and what it shows: one line and a longer text, in the language of the figure, in the SVG and in the
// PDF; no two kinds of figure are called the same.
func TestEveryFigureSaysWhatItIs(t *testing.T) {
	german, err := plots.Style{}.In("de")
	require.NoError(t, err)
	english := everyFigure(t, plots.Style{})
	titles, abouts := map[string]string{}, map[string]string{}
	for name, f := range english {
		checkFigure(t, f, name)
		assert.NotContains(t, f.Title(), "\n", name)
		assert.Greater(t, len(f.Description()), len("what it shows"), name)
		assert.NotContains(t, f.Title()+f.Description(), "%!", name)
		assert.Empty(t, titles[f.Title()], name)
		assert.Empty(t, abouts[f.Description()], name)
		titles[f.Title()], abouts[f.Description()] = name, name
		svg, err := f.SVG()
		require.NoError(t, err)
		assert.Contains(t, string(svg[:400]), `role="img"`, name)
		assert.Contains(t, string(svg[:100]), `lang="en"`, name)
	}
	for name, f := range everyFigure(t, german) {
		assert.NotEqual(t, english[name].Description(), f.Description(), "%s: it is in German", name)
	}
}

// A picture has as many pixels as its size in points at its resolution, which it states; it is opaque, on paper of the style.
func TestPicturesHaveTheirSize(t *testing.T) {
	for _, c := range []struct {
		style plots.Style
		dpi   float64
		paper color.RGBA
	}{
		{plots.Style{}, 200, color.RGBA{255, 255, 255, 255}},
		{plots.Style{Medium: plots.OneColumn}, 300, color.RGBA{255, 255, 255, 255}},
		{plots.Style{Medium: plots.Slide, Dark: true}, 144, color.RGBA{0x14, 0x18, 0x1d, 255}},
	} {
		f, err := plots.Fractions(resulttest.Mixture(1).Document, c.style)
		require.NoError(t, err)
		data, err := f.PNG()
		require.NoError(t, err)
		picture, err := png.Decode(bytes.NewReader(data))
		require.NoError(t, err)
		w, h := f.Size()
		assert.InDelta(t, w*c.dpi/72, picture.Bounds().Dx(), 0.5001)
		assert.InDelta(t, h*c.dpi/72, picture.Bounds().Dy(), 0.5001)
		for _, at := range [][2]int{{0, 0}, {picture.Bounds().Dx() - 1, picture.Bounds().Dy() - 1}} {
			assert.Equal(t, c.paper, color.RGBAModel.Convert(picture.At(at[0], at[1])))
		}
		chunks := chunksOf(t, data)
		assert.Equal(t, []byte("IHDR"), chunks[0].kind)
		for _, k := range chunks {
			if string(k.kind) == "pHYs" { // dots per metre: an inch is 0.0254 m (ISO/IEC 15948)
				assert.InDelta(t, c.dpi/0.0254, binary.BigEndian.Uint32(k.data), 0.5)
				assert.InDelta(t, c.dpi/0.0254, binary.BigEndian.Uint32(k.data[4:]), 0.5)
				assert.Equal(t, byte(1), k.data[8], "the unit is the metre")
			}
			assert.NotEqual(t, "tIME", string(k.kind), "no date: the same figure is the same file")
		}
	}
}

type chunk struct{ kind, data []byte }

// chunksOf reads the chunks of a PNG and checks their sums (ISO/IEC 15948: CRC-32 of kind and data).
func chunksOf(t *testing.T, file []byte) (out []chunk) {
	t.Helper()
	require.Equal(t, "\x89PNG\r\n\x1a\n", string(file[:8]))
	for file = file[8:]; len(file) > 0; {
		n := binary.BigEndian.Uint32(file)
		kind, data := file[4:8], file[8:8+n]
		assert.Equal(t, crc32.ChecksumIEEE(file[4:8+n]), binary.BigEndian.Uint32(file[8+n:]), string(kind))
		out = append(out, chunk{kind, data})
		file = file[12+n:]
	}
	assert.Equal(t, "IEND", string(out[len(out)-1].kind))
	return out
}

// A PDF is one page of the figure's size, in points from its foot, with title, subject and language, and no date but that of the beginning of time.
func TestPDFIsOnePageOfItsSize(t *testing.T) {
	german, err := plots.Style{Medium: plots.OneColumn}.In("de")
	require.NoError(t, err)
	for language, s := range map[string]plots.Style{"en": {}, "de": german} {
		f, err := plots.Budget(resulttest.Mixture(1).Document, s)
		require.NoError(t, err)
		data, err := f.PDF()
		require.NoError(t, err)
		text := string(data)
		w, h := f.Size()
		box := regexp.MustCompile(`/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]`).FindStringSubmatch(text)
		require.Len(t, box, 3)
		for k, want := range []float64{w, h} {
			got, err := strconv.ParseFloat(box[k+1], 64)
			require.NoError(t, err)
			assert.InDelta(t, want, got, 0.01)
		}
		assert.Equal(t, 1, strings.Count(text, "/Type /Page\n")+strings.Count(text, "/Type /Page "), "one page")
		assert.Contains(t, text, "/Lang ("+language+")")
		assert.Contains(t, text, "/Title")
		assert.Contains(t, text, "/Subject")
		assert.NotRegexp(t, `D:(19[89]|20)`, text)
	}
}

// An SVG is as large as the figure, all its numbers are finite, and nothing is drawn far outside of it; that for a page carries no letters of its own,
// and tells those of the page how wide to be.
func TestSVGKeepsToItsPage(t *testing.T) {
	number := regexp.MustCompile(`-?\d*\.?\d+`)
	for name, f := range everyFigure(t, plots.Style{Medium: plots.OneColumn}) {
		svg, err := f.SVG()
		require.NoError(t, err)
		w, h := f.Size()
		box := regexp.MustCompile(`viewBox="0 0 ([\d.]+) ([\d.]+)"`).FindSubmatch(svg)
		require.Len(t, box, 3, name)
		bw, _ := strconv.ParseFloat(string(box[1]), 64)
		bh, _ := strconv.ParseFloat(string(box[2]), 64)
		assert.InDelta(t, w, bw, 0.01, name)
		assert.InDelta(t, h, bh, 0.01, name)
		for _, start := range regexp.MustCompile(`M(-?[\d.]+) ?(-?[\d.]+)`).FindAllSubmatch(svg, -1) {
			for k, most := range []float64{w, h} {
				v, err := strconv.ParseFloat(string(number.Find(start[k+1])), 64)
				require.NoError(t, err, name)
				assert.True(t, v > -1 && v < most+1, "%s: a path begins at %s", name, start[0])
			}
		}
		inline := f.InlineSVG()
		assert.Contains(t, string(svg), "@font-face", name)
		assert.NotContains(t, string(inline), "@font-face", name)
		assert.Equal(t, strings.Count(string(svg), "<text"), strings.Count(string(inline), "textLength="), name)
		assert.NotContains(t, string(svg), "textLength=", name)
		assert.Equal(t, elements(t, svg), elements(t, inline)+letterBlocks(svg), name)
	}
}

// elements counts the elements of a drawing.
func elements(t *testing.T, svg []byte) (n int) {
	t.Helper()
	for d := xml.NewDecoder(bytes.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return n
		}
		require.NoError(t, err)
		if _, ok := token.(xml.StartElement); ok {
			n++
		}
	}
}

// letterBlocks counts the style elements of a drawing, which hold its letters.
func letterBlocks(svg []byte) int { return bytes.Count(svg, []byte("<style>")) }

// The pixels that are stored are those that were drawn: the rows of a PNG, undone as the format says (filter 2, the difference to the row above), are
// the picture that a decoder sees.
func TestRowsOfAPicture(t *testing.T) {
	f, err := plots.Budget(resulttest.Mixture(1).Document, plots.Style{Medium: plots.OneColumn})
	require.NoError(t, err)
	data, err := f.PNG()
	require.NoError(t, err)
	picture, err := png.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	var packed []byte
	for _, c := range chunksOf(t, data) {
		if string(c.kind) == "IDAT" {
			packed = append(packed, c.data...)
		}
	}
	z, err := zlib.NewReader(bytes.NewReader(packed))
	require.NoError(t, err)
	raw, err := io.ReadAll(z)
	require.NoError(t, err)
	w := picture.Bounds().Dx()
	require.Len(t, raw, picture.Bounds().Dy()*(1+3*w))
	above := make([]byte, 3*w)
	for y := range picture.Bounds().Dy() {
		row := raw[y*(1+3*w):][:1+3*w]
		require.Equal(t, byte(2), row[0])
		for i := range above {
			above[i] += row[1+i]
		}
		for _, x := range []int{0, w / 3, w - 1} {
			c := color.RGBAModel.Convert(picture.At(x, y)).(color.RGBA)
			require.Equal(t, []byte{c.R, c.G, c.B}, above[3*x:3*x+3], "%d, %d", x, y)
		}
	}
}

// A figure of its own width is as wide as it says, with the letters of the nearest medium and a height between those of both; what is too narrow or
// too wide is refused.
func TestWidthsOfOnesOwn(t *testing.T) {
	doc := resulttest.Mixture(1)
	for mm, c := range map[float64]struct {
		medium plots.Medium
		height float64 // mm
	}{60: {plots.OneColumn, 89.74}, 85: {plots.OneColumn, 95}, 132: {plots.OneColumn, 104.89}, 133: {plots.TwoColumn, 105.11}, 180: {plots.TwoColumn, 115}, 400: {plots.TwoColumn, 161.32}} {
		s, err := plots.Style{Dark: true}.Wide(mm)
		require.NoError(t, err)
		assert.Equal(t, c.medium, s.Medium, "%g mm", mm)
		assert.True(t, s.Dark, "the rest stays")
		f, err := plots.Pattern(doc, s, plots.PatternOptions{})
		require.NoError(t, err)
		w, h := f.Size()
		assert.InDelta(t, mm*72/25.4, w, 1e-9, "%g mm", mm)
		assert.InDelta(t, c.height*72/25.4, h, 0.1, "95 mm at 85, 115 at 180, on a straight line: %g mm", mm)
	}
	for _, mm := range []float64{0, -1, 59.99, 400.01, math.NaN(), math.Inf(1)} {
		s, err := plots.Style{Medium: plots.Slide}.Wide(mm)
		require.ErrorIs(t, err, plots.ErrWidth, "%g", mm)
		assert.Contains(t, err.Error(), "60 to 400 mm")
		assert.Equal(t, plots.Style{Medium: plots.Slide}, s, "it stays as it was")
	}
}
