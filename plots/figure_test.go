package plots

import (
	"bytes"
	"encoding/xml"
	"flag"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

var update = flag.Bool("update", false, "write the golden figures anew; look at each of them")

func requireXML(t *testing.T, svg []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else {
			require.NoError(t, err)
		}
	}
}

// wild is a result with everything that makes a figure crowded: long names, masks, an arrow, unknown numbers.
func wild() result.Analysis {
	r := resulttest.Mixture(2)
	p := r.Document.Phases
	p[0].Name = "a phase whose name somebody has written out in full, with its polytype"
	p[1].Origin, p[2].WeightPercent, p[2].WeightPercentLo = "preparation", nil, nil
	r.Document.Scan.Sample = strings.Repeat("long sample name ", 12)
	r.Curves.Masked = make([]bool, len(r.Curves.TwoTheta))
	for i := 4200; i < 4700; i++ {
		r.Curves.Masked[i] = true
	}
	r.Curves.Observed[3000] += 900
	r.Curves.Observed[3100], r.Curves.Sigma[3200], r.Curves.Sigma[3300] = math.NaN(), 0, math.Inf(1)
	return r
}

func styles() map[string]Style {
	return map[string]Style{"two": {}, "one": {Medium: OneColumn}, "slide": {Medium: Slide}, "dark slide": {Medium: Slide, Dark: true}}
}

// allFigures draws everything of a result in a style.
func allFigures(t *testing.T, r result.Analysis, s Style) map[string]*Figure {
	t.Helper()
	out := map[string]*Figure{}
	keep := func(name string, f *Figure, err error) {
		require.NoError(t, err, name)
		out[name] = f
	}
	f, err := Pattern(r, s, PatternOptions{})
	keep("pattern", f, err)
	f, err = Pattern(r, s, PatternOptions{Lo: 25, Hi: 60, Linear: true, HKL: true})
	keep("zoom", f, err)
	f, err = Pattern(r, s, PatternOptions{Insets: [][2]float64{{33, 38}, {60, 64}}})
	keep("insets", f, err)
	f, err = Fractions(r.Document, s)
	keep("fractions", f, err)
	f, err = Budget(r.Document, s)
	keep("budget", f, err)
	for _, p := range r.Document.Phases[:min(2, len(r.Document.Phases))] {
		f, err = Evidence(r.Document, strings.ToUpper(p.ID), s)
		keep("evidence-"+p.ID, f, err)
	}
	return out
}

// Nothing is written over something else or beyond the page, and a slide has no text below 14 pt.
func TestTextsNeitherOverlapNorLeaveThePage(t *testing.T) {
	results := map[string]result.Analysis{"mixture": resulttest.Mixture(1), "wild": wild(), "40 phases": resulttest.Many(40), "8 phases": resulttest.Many(8), "none": resulttest.Empty()}
	for rn, r := range results {
		for sn, s := range styles() {
			for fn, f := range allFigures(t, r, s) {
				var labels []label
				for _, it := range items(f) {
					if it.label != nil {
						labels = append(labels, *it.label)
					}
				}
				require.NotEmpty(t, labels)
				for i, l := range labels {
					b := l.box()
					where := rn + ", " + sn + ", " + fn + ": " + l.text
					assert.True(t, b.left >= -0.01 && b.top >= -0.01 && b.right <= f.width+0.01 && b.bottom <= f.height+0.01, "%s leaves the page: %+v", where, b)
					if s.Medium == Slide {
						assert.GreaterOrEqual(t, l.size, 14.0, where)
					}
					for _, o := range labels[:i] {
						assert.False(t, b.grow(-0.4).meets(o.box().grow(-0.4)), "%s meets %q", where, o.text)
					}
				}
			}
		}
	}
}

func TestPatternSaysWhatItShows(t *testing.T) {
	f, err := Pattern(resulttest.Mixture(1), Style{}, PatternOptions{})
	require.NoError(t, err)
	texts := f.Texts()
	count := map[string]int{}
	for _, s := range texts {
		count[s]++
	}
	for _, name := range []string{"corundum", "fluorite", "zincite"} {
		assert.Equal(t, 2, count[name], "%s is named at a peak and at its lane", name)
	}
	for _, want := range []string{"fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6, corundum 31.4 ± 0.5 wt%", "counts, √ scale", "2θ (°), Cu Kα", "d (Å)",
		"residual (σ)", "unexplained", "expected, not seen", "worst +12.1 σ at 20.86°", "mixture A (invented)"} {
		assert.Equal(t, 1, count[want], want)
	}
	assert.Equal(t, "fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6, corundum 31.4 ± 0.5 wt%", texts[0], "the answer comes first")
	linear, err := Pattern(wild(), Style{}, PatternOptions{Linear: true})
	require.NoError(t, err)
	assert.Contains(t, linear.Texts(), "counts, linear scale")
	assert.Contains(t, linear.Texts(), "left out")
}

// The strongest peaks are those that get their indices first, and their names stand over them.
func TestTheStrongestPeaksHaveTheirIndices(t *testing.T) {
	f, err := Pattern(resulttest.Mixture(1), Style{}, PatternOptions{Lo: 25, Hi: 60, HKL: true})
	require.NoError(t, err)
	written := map[string]bool{}
	names := map[string]int{}
	for _, it := range items(f) {
		if it.label != nil && it.label.vertical {
			written[it.label.text] = true
		} else if it.label != nil {
			names[it.label.text]++
		}
	}
	for _, p := range resulttest.Mixture(1).Document.Phases {
		most := result.PhaseLine{}
		for _, l := range p.Lines {
			if l.TwoTheta > 25 && l.TwoTheta < 60 && l.Expected > most.Expected {
				most = l
			}
		}
		assert.True(t, written[HKL(most)], "%s %s", p.Name, HKL(most))
		assert.Equal(t, 2, names[p.Name], "%s at a peak and at its lane", p.Name)
	}
}

// A title that is longer than a column is wide goes on in the next line.
func TestLongTitlesAreWhole(t *testing.T) {
	r := resulttest.Mixture(1)
	for _, draw := range []func() (*Figure, error){
		func() (*Figure, error) { return Pattern(r, Style{Medium: OneColumn}, PatternOptions{}) },
		func() (*Figure, error) { return Fractions(r.Document, Style{Medium: OneColumn}) },
	} {
		f, err := draw()
		require.NoError(t, err)
		assert.Contains(t, strings.Join(f.Texts(), " "), Answer(r.Document, &English))
	}
	m := Style{}.measure()
	lines := titleLines(strings.Repeat("word ", 200), m, 200)
	assert.Len(t, lines, 3)
	assert.Contains(t, lines[2], "…")
}

// A name stands over the curve, never on it.
func TestNamesClearTheCurve(t *testing.T) {
	p, err := newPatternPlot(resulttest.Mixture(1), Style{}, PatternOptions{})
	require.NoError(t, err)
	p.layout()
	p.axes()
	p.put(p.Shares, p.x, p.y)
	before := len(items(p.Figure))
	p.names()
	named := 0
	for _, it := range items(p.Figure)[before:] {
		if it.label != nil {
			b := it.label.box()
			assert.LessOrEqual(t, b.bottom, p.height(b.left, b.right), it.label.text)
			named++
		}
	}
	assert.Equal(t, 3, named)
}

// What the fit left out is no residual, however bad it looks.
func TestMaskedPointsAreNoResidual(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Curves.Observed[4000] += 1e4
	r.Curves.Masked = make([]bool, len(r.Curves.TwoTheta))
	f, err := Pattern(r, Style{}, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(f.Texts(), "|"), "σ at 85.00°")
	r.Curves.Masked[4000] = true
	f, err = Pattern(r, Style{}, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "worst +12.1 σ at 20.86°")
}

func TestManyPhasesAreGrouped(t *testing.T) {
	f, err := Pattern(resulttest.Many(40), Style{}, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "other phases (33)")
	assert.NotContains(t, f.Texts(), "phase number 8")
	f, err = Pattern(resulttest.Many(Colours), Style{}, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "phase number 7")
}

func TestFractionsSayWhatTheyShow(t *testing.T) {
	r := resulttest.Mixture(1)
	f, err := Fractions(r.Document, Style{})
	require.NoError(t, err)
	for _, want := range []string{"31.4 (30.9–31.9) wt%", "not seen; < 0.32 wt%", "wt% of the crystalline specimen, bars with 95 % intervals"} {
		assert.Contains(t, f.Texts(), want)
	}
	r.Document.Phases[0].Origin = "preparation"
	f, err = Fractions(r.Document, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "corundum (preparation), not in the 100 %")
	f, err = Fractions(resulttest.Many(40).Document, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "and 19 more")
}

func TestRefusals(t *testing.T) {
	_, err := Pattern(result.Analysis{}, Style{}, PatternOptions{})
	require.ErrorIs(t, err, ErrNoPoints)
	_, err = Pattern(resulttest.Mixture(1), Style{}, PatternOptions{Lo: 200, Hi: 300})
	require.ErrorIs(t, err, ErrNoPoints)
	_, err = Evidence(resulttest.Mixture(1).Document, "unobtainium", Style{})
	require.ErrorIs(t, err, ErrNoPhase)
	_, err = ParseMedium("poster")
	require.ErrorIs(t, err, ErrUnknownMedium)
	for m, name := range mediumNames {
		got, err := ParseMedium(strings.ToUpper(name))
		require.NoError(t, err)
		assert.Equal(t, Medium(m), got)
	}
}

// Identical input gives identical bytes; an SVG is well-formed, small and carries its letters; a PDF carries no date.
func TestFilesAreReproducible(t *testing.T) {
	for sn, s := range map[string]Style{"one": {Medium: OneColumn}, "dark slide": {Medium: Slide, Dark: true}} {
		first, err := Render(allFigures(t, wild(), s))
		require.NoError(t, err)
		second, err := Render(allFigures(t, wild(), s))
		require.NoError(t, err)
		for name, data := range first {
			assert.True(t, bytes.Equal(data, second[name]), "%s %s", sn, name)
			switch filepath.Ext(name) {
			case ".svg":
				requireXML(t, data)
				assert.Less(t, len(data), 1<<20)
				assert.Contains(t, string(data), "@font-face")
			case ".pdf":
				assert.Contains(t, string(data), "D:19700101")
				assert.NotContains(t, string(data), "D:20")
				assert.Contains(t, string(data), "/FontFile2")
			}
		}
	}
}

func TestPDFTextCanBeSearched(t *testing.T) {
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("NOT TESTED: the text of PDF figures, because pdftotext is not installed (Debian: apt-get install poppler-utils)")
	}
	f, err := Pattern(resulttest.Mixture(1), Style{}, PatternOptions{})
	require.NoError(t, err)
	data, err := f.PDF()
	require.NoError(t, err)
	c := exec.Command(program, "-", "-")
	c.Stdin = bytes.NewReader(data)
	out, err := c.Output()
	require.NoError(t, err)
	for _, want := range []string{"2θ (°), Cu Kα", "d (Å)", "corundum", "√"} {
		assert.Contains(t, string(out), want)
	}
}

func TestGoldenFigures(t *testing.T) {
	for name, f := range allFigures(t, resulttest.Mixture(1), Style{}) {
		f.dpi = 100
		data, err := f.PNG()
		require.NoError(t, err)
		golden(t, name, data)
	}
	f, err := Pattern(resulttest.Many(40), Style{Medium: Slide, Dark: true}, PatternOptions{})
	require.NoError(t, err)
	f.dpi = 72
	data, err := f.PNG()
	require.NoError(t, err)
	golden(t, "many-dark-slide", data)
}

func golden(t *testing.T, name string, data []byte) {
	t.Helper()
	path := filepath.Join("testdata", name+"_golden.png")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, data, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	if differ := differing(t, data, want); !assert.LessOrEqual(t, differ, 0.003, name) {
		require.NoError(t, os.WriteFile(filepath.Join(t.ArtifactDir(), name+".png"), data, 0o644))
	}
}

// differing returns the share of pixels whose colours differ by more than a tenth: processors round differently, and a
// moved label changes far more.
func differing(t *testing.T, a, b []byte) float64 {
	t.Helper()
	p, err := png.Decode(bytes.NewReader(a))
	require.NoError(t, err)
	q, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	require.Equal(t, q.Bounds(), p.Bounds())
	n, size := 0, p.Bounds().Dx()*p.Bounds().Dy()
	for i := range size {
		at := image.Pt(i%p.Bounds().Dx(), i/p.Bounds().Dx())
		r1, g1, b1, _ := p.At(at.X, at.Y).RGBA()
		r2, g2, b2, _ := q.At(at.X, at.Y).RGBA()
		if math.Abs(float64(r1)-float64(r2))+math.Abs(float64(g1)-float64(g2))+math.Abs(float64(b1)-float64(b2)) > 0.3*0xffff {
			n++
		}
	}
	return float64(n) / float64(size)
}
