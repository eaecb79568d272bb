package plots

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func reference(t *testing.T, name string, lines ...refdata.Line) refdata.Phase {
	t.Helper()
	r, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return refdata.Phase{ID: name, Name: name, Formula: "Al2O3", Beam: refdata.Beam{Radiation: r}, Lines: lines}
}

func stick(at, intensity float64, h, k, l int) refdata.Line {
	return refdata.Line{TwoTheta: at, Intensity: intensity, Families: []refdata.Family{{H: h, K: k, L: l}}}
}

// Reference lines are sticks at their angles, in proportion to their intensities; the strong ones have indices, the rest none.
func TestSticksStandAtTheirAngles(t *testing.T) {
	p := reference(t, "corundum", stick(35, 100, 1, 0, 4), stick(25, 60, 0, 1, 2), stick(57, 1, 2, 1, 1), refdata.Line{TwoTheta: 50, Intensity: 40})
	f, err := Sticks([]refdata.Phase{p}, Style{})
	require.NoError(t, err)
	sticks := strokes(items(f), Style{}.paint(Colouring([]string{"corundum"})[0]).edge)
	require.Len(t, sticks, 4)
	length := func(r []point) float64 { return r[0].y - r[1].y }
	perDegree := (sticks[0][0].x - sticks[2][0].x) / (35 - 50) // strongest first: 35°, 25°, 50°, 57°
	for k, c := range []struct{ at, intensity float64 }{{35, 100}, {25, 60}, {50, 40}, {57, 1}} {
		assert.InDelta(t, perDegree*(c.at-35), sticks[k][0].x-sticks[0][0].x, 1e-6, "%g°", c.at)
		assert.InDelta(t, length(sticks[0])*c.intensity/100, length(sticks[k]), 1e-6, "%g°", c.at)
	}
	texts := f.Texts()
	for text, want := range map[string]bool{"1 0 4": true, "0 1 2": true, "2 1 1": false, "corundum  Al₂O₃": true, "2θ (°), Cu Kα": true, "20": true, "60": true} {
		assert.Equal(t, want, slices.Contains(texts, text), "%q in %q", text, texts)
	}
}

// Indices neither lie upon each other nor upon a stick that is stronger.
func TestIndicesOfSticksStandFree(t *testing.T) {
	var lines []refdata.Line
	for i := range 60 {
		lines = append(lines, stick(20+0.7*float64(i), 100-float64(i%5), i%7, i%5, i%3))
	}
	f, err := Sticks([]refdata.Phase{reference(t, "crowded", lines...)}, Style{Medium: OneColumn})
	require.NoError(t, err)
	var boxes []box
	for _, i := range items(f) {
		if i.label != nil && strings.Count(i.label.text, " ") == 2 && i.label.text[0] < 'A' {
			boxes = append(boxes, i.label.box())
		}
	}
	require.Greater(t, len(boxes), 4)
	for i, b := range boxes {
		assert.True(t, b.left >= 0 && b.right <= f.width)
		assert.False(t, meetsAny(b, boxes[:i]), "%+v", b)
	}
}

func TestSticksOfMany(t *testing.T) {
	var many []refdata.Phase
	for i := range 15 {
		many = append(many, reference(t, "p"+string(rune('a'+i)), stick(30+float64(i), 100, 1, 1, 1)))
	}
	f, err := Sticks(many, Style{Medium: Slide, Dark: true})
	require.NoError(t, err)
	texts := strings.Join(f.Texts(), "\n")
	assert.Contains(t, texts, "pl  Al₂O₃")
	assert.NotContains(t, texts, "pm  Al₂O₃")
	assert.Contains(t, texts, "3", "three more are told")
	for _, none := range [][]refdata.Phase{nil, {reference(t, "no lines")}} {
		_, err = Sticks(none, Style{})
		assert.ErrorIs(t, err, ErrNoPoints)
	}
	many[0].Beam.Radiation, err = xrd.ParseRadiation("0.7093")
	require.NoError(t, err)
	f, err = Sticks(many[:1], Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "2θ (°), λ = 0.7093 Å", "not 0.7093 Kα, although that is molybdenum's")
}

// The beam is drawn to scale over the specimen: what is beside it, in the colour of alarm.
func TestFootprintIsToScale(t *testing.T) {
	p := result.Plan{Specimen: result.PlannedSpecimen{LengthMM: value(10)}, Footprint: result.Footprint{Rows: []result.FootprintRow{{TwoTheta: 20, LengthMM: 20, Share: 0.5}, {TwoTheta: 60, LengthMM: 8, Share: 1}}}}
	style := Style{}
	f := FootprintFigure(p, style)
	beam, inside := areas(items(f), style.theme().alarm), areas(items(f), style.paint(0).fill)
	require.Len(t, beam, 2)
	require.Len(t, inside, 2)
	width := func(r []point) float64 { b := extentOf(r); return b.right - b.left }
	assert.InDelta(t, 0.5, width(inside[0])/width(beam[0]), 1e-9, "half is on the specimen")
	assert.InDelta(t, width(beam[1]), width(inside[1]), 1e-9, "all is")
	assert.InDelta(t, 20./8, width(beam[0])/width(beam[1]), 1e-9)
	specimen := areas(items(f), style.theme().shade)
	assert.InDelta(t, width(inside[0]), width(specimen[0]), 1e-9, "10 mm")
	assert.Contains(t, strings.Join(f.Texts(), "\n"), "50")

	for i := range 17 {
		p.Footprint.Rows = append(p.Footprint.Rows, result.FootprintRow{TwoTheta: 61 + float64(i), LengthMM: 7, Share: 1})
	}
	assert.Len(t, areas(items(FootprintFigure(p, style)), style.theme().alarm), 5, "19 rows, halved twice")
	assert.Nil(t, FootprintFigure(result.Plan{}, style))
}

// Depths are bars to 95 % with whiskers from 50 to 99 %.
func TestDepthsOfAPlan(t *testing.T) {
	p := result.Plan{Drawn: resulttest.Mixture(1)}
	for _, ph := range p.Drawn.Document.Phases {
		p.Phases = append(p.Phases, result.PlannedPhase{ID: ph.ID, Name: ph.Name, DepthUM: [3]float64{2, 8, 16}})
	}
	f := Depths(p, Style{})
	bar := extentOf(areas(items(f), withAlpha(Style{}.paint(Slots(p.Drawn.Document)[0]).fill, 0.55))...)
	least, most := math.Inf(1), math.Inf(-1)
	for _, r := range strokes(items(f), Style{}.theme().ink) {
		if b := extentOf(r); b.top > bar.top && b.bottom < bar.bottom && b.right > b.left {
			least, most = math.Min(least, b.left), math.Max(most, b.right)
		}
	}
	perMicron := (bar.right - bar.left) / 8
	assert.InDelta(t, bar.left+2*perMicron, least, 1e-6)
	assert.InDelta(t, bar.left+16*perMicron, most, 1e-6)
	assert.Contains(t, strings.Join(f.Texts(), "\n"), "8 µm")
}

func TestMediaAreRead(t *testing.T) {
	for _, m := range []Medium{TwoColumn, OneColumn, Slide} {
		got, err := ParseMedium(strings.ToUpper(m.String()))
		require.NoError(t, err)
		assert.Equal(t, m, got)
	}
	got, err := ParseMedium("")
	require.NoError(t, err)
	assert.Equal(t, TwoColumn, got)
	_, err = ParseMedium("poster")
	assert.ErrorIs(t, err, ErrUnknownMedium)
	assert.ErrorContains(t, err, "one-column")
}

// What axes and titles say follows from the scan.
func TestWordsFollowTheScan(t *testing.T) {
	assert.Equal(t, "Co Kα", tube(result.Scan{Radiation: "Co", Wavelength: 1.78897}))
	assert.Equal(t, "λ = 0.7093 Å", tube(result.Scan{Radiation: "0.7093", Wavelength: 0.7093}))
	assert.Equal(t, "λ = 0.7093 Å", tube(result.Scan{Wavelength: 0.7093}))
	assert.Equal(t, English.Counts, intensityUnit(result.Scan{NoiseModel: "poisson"}, &English))
	assert.Equal(t, English.Intensity, intensityUnit(result.Scan{NoiseModel: "estimated"}, &English))
	assert.Equal(t, "x", titled(false, "x", &English))
	assert.NotEqual(t, "x", titled(true, "x", &English))
	assert.Contains(t, titled(true, "x", &English), "x")
	h, l := 1, -4
	assert.Equal(t, "1 1 −4", HKL(result.PhaseLine{H: &h, K: &h, L: &l}))
	assert.Empty(t, HKL(result.PhaseLine{H: &h, K: &h}))
}

// Every figure of a scan that was calculated says so in its title, for whoever sees it alone.
func TestSimulatedFiguresSayIt(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Scan.Simulated = "calculated"
	word := strings.Fields(English.Simulated)[0]
	for name, f := range allFigures(t, r, Style{}) {
		assert.Contains(t, f.Title(), word, name)
	}
}

// Of more lines than a figure has room for, the strongest are kept, in their order, and no more than that where several are as strong.
func TestStrongestLines(t *testing.T) {
	line := func(v float64) result.PhaseLine { return result.PhaseLine{Expected: v} }
	lines := []result.PhaseLine{line(3), line(9), line(0), line(9), line(math.NaN()), line(5)}
	for n, want := range map[int][]float64{1: {9}, 2: {9, 9}, 3: {9, 9, 5}, 9: {3, 9, 9, 5}} {
		var got []float64
		for _, l := range Strongest(expected(lines), n) {
			got = append(got, l.Expected)
		}
		assert.Equal(t, want, got, "%d", n)
	}
}
