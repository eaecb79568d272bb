package plots

import (
	"fmt"
	"image/color"
	"math"
	"math/rand/v2"
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

// times returns an analysis with all intensities multiplied, as if it had been counted longer.
func times(r result.Analysis, by float64) result.Analysis {
	scale := func(v []float64) []float64 {
		out := slices.Clone(v)
		for i := range out {
			out[i] *= by
		}
		return out
	}
	c := &r.Curves
	c.Observed, c.Calculated, c.Background, c.Sigma = scale(c.Observed), scale(c.Calculated), scale(c.Background), scale(c.Sigma)
	c.Phases = slices.Clone(c.Phases)
	for k := range c.Phases {
		c.Phases[k] = scale(c.Phases[k])
	}
	return r
}

// sameShapes requires that two drawings have the same shapes at the same places.
func sameShapes(t *testing.T, a, b []item, why string) {
	t.Helper()
	require.Len(t, b, len(a), why)
	for i := range a {
		if a[i].shape == nil {
			continue
		}
		require.NotNil(t, b[i].shape, why)
		require.Equal(t, len(a[i].shape.runs), len(b[i].shape.runs), why)
		for k, run := range a[i].shape.runs {
			require.Len(t, b[i].shape.runs[k], len(run), why)
			for j, p := range run {
				require.InDelta(t, p.x, b[i].shape.runs[k][j].x, 1e-6, why)
				require.InDelta(t, p.y, b[i].shape.runs[k][j].y, 1e-6, why)
			}
		}
	}
}

// Counting eight times as long changes the numbers of the axis and nothing else: shares, scan, lanes and residuals stay where they are, on a linear and
// on a √ scale.
func TestUnitOfIntensitiesChangesNoShape(t *testing.T) {
	r := twoPhases()
	for _, by := range []float64{8, 1e-3, 1e5} {
		s := times(r, by)
		a, err := NewShares(r, Style{}, 0, 0)
		require.NoError(t, err)
		b, err := NewShares(s, Style{}, 0, 0)
		require.NoError(t, err)
		_, _, _, top := a.DataRange()
		_, _, _, high := b.DataRange()
		assert.InEpsilon(t, by*top, high, 1e-12)
		sameShapes(t, drawnOn(a, [2]float64{20, 60}, [2]float64{0, top}), drawnOn(b, [2]float64{20, 60}, [2]float64{0, high}), "shares")
		p, err := NewResiduals(r, Style{})
		require.NoError(t, err)
		q, err := NewResiduals(s, Style{})
		require.NoError(t, err)
		sameShapes(t, drawnOn(p, [2]float64{20, 60}, [2]float64{-5, 5}), drawnOn(q, [2]float64{20, 60}, [2]float64{-5, 5}), "residuals")
	}
}

// A shift of all angles shifts what is drawn, and nothing else.
func TestShiftOfTheRangeShiftsTheShapes(t *testing.T) {
	r, s := twoPhases(), twoPhases()
	for i := range s.Curves.TwoTheta {
		s.Curves.TwoTheta[i] += 32
	}
	for k := range s.Document.Phases {
		for i := range s.Document.Phases[k].Lines {
			s.Document.Phases[k].Lines[i].TwoTheta += 32
		}
	}
	for _, sqrt := range []bool{false, true} {
		a, err := NewLanes(r, Style{}, sqrt)
		require.NoError(t, err)
		b, err := NewLanes(s, Style{}, sqrt)
		require.NoError(t, err)
		sameShapes(t, drawnOn(a, [2]float64{20, 60}, [2]float64{-0.5, 1.5}), drawnOn(b, [2]float64{52, 92}, [2]float64{-0.5, 1.5}), "lanes")
	}
	a, err := NewShares(r, Style{}, 0, 0)
	require.NoError(t, err)
	b, err := NewShares(s, Style{}, 0, 0)
	require.NoError(t, err)
	sameShapes(t, drawnOn(a, [2]float64{20, 60}, [2]float64{0, 100}), drawnOn(b, [2]float64{52, 92}, [2]float64{0, 100}), "shares")
}

// The order in which phases are listed moves their rows and changes nothing in them: the same bar, text and colour by name.
func TestOrderOfPhasesKeepsTheirBars(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	rows := func(doc result.Document) map[string]bar {
		out := map[string]bar{}
		for _, b := range NewBars(doc, Style{}).bars {
			b.paint.hatch = hatch{} // compared below by colour
			b.lo, b.hi, b.value = finite(b.lo), finite(b.hi), finite(b.value)
			out[b.name] = b
		}
		return out
	}
	want := rows(doc)
	rnd := rand.New(rand.NewPCG(1, 5))
	for range 6 {
		doc.Phases = slices.Clone(doc.Phases)
		rnd.Shuffle(len(doc.Phases), func(i, j int) { doc.Phases[i], doc.Phases[j] = doc.Phases[j], doc.Phases[i] })
		assert.Equal(t, want, rows(doc))
		assert.Equal(t, "fluorite 34.4 ± 0.5, zincite 34.2 ± 0.6, corundum 31.4 ± 0.5 wt%", Answer(doc, &English), "the largest first, however they are listed")
	}
}

// English and German figures have the same shapes where words take no room: only texts differ.
func TestLanguageChangesNoPlotter(t *testing.T) {
	german, err := Style{}.In("de")
	require.NoError(t, err)
	for _, d := range []func(Style) []item{
		func(s Style) []item {
			p, err := NewShares(twoPhases(), s, 0, 0)
			require.NoError(t, err)
			return drawnOn(p, [2]float64{20, 60}, [2]float64{0, 100})
		},
		func(s Style) []item {
			p, err := NewTrends(resulttest.Series(5), s)
			require.NoError(t, err)
			return drawnOn(p, [2]float64{0, 160}, [2]float64{0, 70})
		},
		func(s Style) []item {
			return drawnOn(NewBars(twoPhases().Document, s), [2]float64{0, 100}, [2]float64{-0.5, 1.5})
		},
	} {
		sameShapes(t, d(Style{}), d(german), "German")
	}
}

// A value has one place on an axis and can be read back from it; it stays on the axis where it is clipped; the ends are the ends.
func TestAxisCanBeReadBack(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	for range 500 {
		lo := -50 + 100*rnd.Float64()
		hi := lo + math.Pow(10, 6*rnd.Float64()-2)
		sqrt := rnd.IntN(2) == 1
		from, to := 500*rnd.Float64(), 500*rnd.Float64()
		a := newAxis(lo, hi, from, to, sqrt)
		assert.InDelta(t, from, a.at(lo), 1e-9)
		assert.InDelta(t, to, a.at(hi), 1e-9)
		v := lo + (hi-lo)*rnd.Float64()
		share := (a.at(v) - from) / (to - from)
		back := lo + share*(hi-lo)
		if sqrt {
			r := root(lo) + share*(root(hi)-root(lo))
			back = r * math.Abs(r)
		}
		assert.InDelta(t, v, back, 1e-6*(hi-lo), "√ %t: %g of %g to %g", sqrt, v, lo, hi)
		assert.True(t, a.holds(v) && !a.holds(lo-1e-6*(hi-lo)) && !a.holds(hi+1e-6*(hi-lo)))
		assert.InDelta(t, a.at(v), a.clip(v), 1e-9)
		assert.InDelta(t, from, a.clip(lo-1e3), 1e-9)
		assert.InDelta(t, to, a.clip(hi+1e3), 1e-9)
	}
	assert.Equal(t, 7.0, newAxis(3, 3, 7, 9, false).at(3), "an axis of one value")
	assert.Equal(t, 7.0, newAxis(math.NaN(), 3, 7, 9, false).at(3))
}

// Ticks on a √ scale are 0 and 1, 2, 5 times powers of ten within the range, apart as asked for, the largest first.
func TestTicksOfASqrtScale(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 8))
	for range 200 {
		hi, most := math.Pow(10, 7*rnd.Float64()-1), 3+10*rnd.Float64()
		list := Ticks{Scale: SqrtScale{}, Most: most}.Ticks(0, hi)
		require.NotEmpty(t, list)
		assert.Zero(t, list[0].Value)
		for k, a := range list {
			assert.True(t, a.Value >= 0 && a.Value <= hi)
			if a.Value > 0 {
				lead := a.Value / math.Pow(10, math.Floor(math.Log10(a.Value)+1e-9))
				assert.True(t, math.Abs(lead-1) < 1e-9 || math.Abs(lead-2) < 1e-9 || math.Abs(lead-5) < 1e-9, "%g", a.Value)
			}
			for _, b := range list[:k] {
				assert.GreaterOrEqual(t, math.Abs(math.Sqrt(a.Value)-math.Sqrt(b.Value))/math.Sqrt(hi), 1/most-1e-12)
			}
		}
	}
	for _, hi := range []float64{0, -3, math.NaN(), math.Inf(1)} {
		assert.Equal(t, []float64{0}, roundValues(hi))
	}
	for v, want := range map[float64]float64{1: 1, 1.01: 2, 2: 2, 2.1: 5, 5: 5, 5.1: 10, 0.03: 0.05, 700: 1000} {
		assert.InEpsilon(t, want, niceStep(v), 1e-12)
	}
}

// A colour that is made legible has the contrast that was asked for, on any paper, and is left alone where it has it already.
func TestLegibleOnAnyPaper(t *testing.T) {
	rnd := rand.New(rand.NewPCG(4, 4))
	any := func() color.NRGBA {
		return color.NRGBA{uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), uint8(rnd.IntN(256)), 255}
	}
	for range 500 {
		c, paper := any(), any()
		got := legible(c, paper, 4.5)
		assert.GreaterOrEqual(t, Contrast(got, paper), 4.49, "%v on %v", c, paper)
		if Contrast(c, paper) >= 4.5 {
			assert.Equal(t, c, got)
		}
		assert.InDelta(t, Contrast(c, paper), Contrast(paper, c), 1e-12)
		assert.GreaterOrEqual(t, Contrast(c, paper), 1.0)
		assert.LessOrEqual(t, Contrast(c, paper), 21.0)
		assert.Equal(t, c, mix(c, paper, 0))
		assert.Equal(t, paper, mix(c, paper, 1))
	}
	assert.Equal(t, color.NRGBA{128, 100, 0, 255}, mix(color.NRGBA{0, 100, 0, 255}, color.NRGBA{255, 100, 0, 255}, 0.5))
	assert.Equal(t, uint8(128), withAlpha(color.NRGBA{}, 0.5).A)
}

// Outlines and sticks of two phases stay apart for everybody, on both papers: where legibility moves colours towards black or white, too. (Fill colours
// are 31 apart; what is moved to be legible may come nearer, but never within the 2.3 of CIE76 that is a difference just seen: Mahy et al. 1994, from
// memory; 10 is plain to see.)
func TestOutlinesStayApart(t *testing.T) {
	for _, dark := range []bool{false, true} {
		for vision, m := range machado {
			for i := range Colours {
				for j := range i {
					a, b := Style{Dark: dark}.paint(i).edge, Style{Dark: dark}.paint(j).edge
					assert.Greater(t, cie76(a, b, m), 10.0, "dark %t, %s: %d and %d", dark, vision, i, j)
				}
			}
		}
	}
}

// Rounding of an amount never tells another value: it is within half of the last digit, and that is a tenth to a twentieth of the interval.
func TestAmountsAreRoundedHonestly(t *testing.T) {
	rnd := rand.New(rand.NewPCG(6, 1))
	for range 1000 {
		v, half := 100*rnd.Float64(), math.Pow(10, 3*rnd.Float64()-2.5)
		lo, hi := v-half, v+half
		n := Decimals(&lo, &hi)
		last := math.Pow(10, -float64(n))
		assert.LessOrEqual(t, last/2, half*0.55, "± %g with %d decimals", half, n)
		if n < 4 && n > 0 {
			assert.GreaterOrEqual(t, last*20, half, "no more digits than deserved: ± %g with %d", half, n)
		}
		var got float64
		_, err := fmt.Sscan(Fixed(v, n), &got)
		require.NoError(t, err)
		assert.LessOrEqual(t, math.Abs(got-v), last/2*(1+1e-9))
	}
	for _, c := range [][2]float64{{math.NaN(), 1}, {1, math.NaN()}, {2, 1}, {1, 1}, {math.Inf(-1), 1}} {
		assert.Equal(t, 1, Decimals(&c[0], &c[1]), "%v", c)
	}
}

// Where two limits of absorption are all that is known, figure and trend say so: a dashed band from limit to limit, in the axis or the legend what it
// is, and no ± anywhere.
func TestFiguresOfSpans(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Absorption = result.AbsorptionLimits
	for i := range doc.Phases {
		doc.Phases[i].CoarseLimitWeightPercent = value(1)
	}
	f, err := Fractions(doc, Style{})
	require.NoError(t, err)
	texts := strings.Join(f.Texts(), "|")
	assert.Contains(t, texts, English.SpanAxis[:40])
	assert.Contains(t, texts, "between 33.9 and 34.8 wt%", "fluorite, 34.37 ∓ 0.47")
	assert.NotContains(t, texts, "±")
	assert.Equal(t, "fluorite 33.9–34.8, zincite 33.6–34.8, corundum 30.9–31.9 wt%", Answer(doc, &English))
	doc.Phases[0].WeightPercentLo = nil
	assert.Contains(t, Answer(doc, &English), "corundum 31.4 wt%", "no limits, no span")

	s := resulttest.Series(6)
	for i := range s.Scans {
		s.Scans[i].Absorption = result.AbsorptionLimits
		for k := range s.Scans[i].Phases {
			s.Scans[i].Phases[k].CoarseLimit = value(1)
		}
	}
	f, err = Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.RibbonSpan)
	p, err := NewTrends(s, Style{})
	require.NoError(t, err)
	dashed := 0
	for _, i := range drawnOn(p, [2]float64{0, 250}, [2]float64{0, 70}) {
		if i.shape != nil && i.shape.fill == withAlpha(p.trends[0].paint.fill, 0.3) {
			dashed++
		}
	}
	assert.Positive(t, dashed)
	s.Abscissa = ""
	for i := range s.Scans {
		*s.Scans[i].Abscissa = 5 // all at one place: no line leads through them
	}
	s.Abscissa = "hours"
	f, err = Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.WhiskersSpan)
}

// A long series is drawn by medians, which is said, with how many scans make one.
func TestLongTrendsSayThatTheyAreMedians(t *testing.T) {
	s := result.Series{Abscissa: "hours", Phases: []result.SeriesPhase{{ID: "a", Name: "phase a"}}}
	for i := range 3000 {
		at := float64(i)
		s.Scans = append(s.Scans, result.SeriesEntry{Abscissa: &at, Phases: []result.SeriesShare{{ID: "a", Detected: true, WeightPercent: value(50 + float64(i%3)), WeightPercentLo: value(40), WeightPercentHi: value(60)}}})
	}
	f, err := Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.Ribbon+"; medians of up to 10 scans", "3000 scans in 300 parts")
	p, err := NewTrends(s, Style{})
	require.NoError(t, err)
	assert.Len(t, p.trends[0].points, 300)
	for _, q := range p.trends[0].points {
		require.InDelta(t, 51, q.value, 0.51)
		require.Equal(t, []float64{40, 60}, []float64{q.lo, q.hi})
	}
	s.Scans = s.Scans[:1500]
	f, err = Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), EnglishSeries.Ribbon, "as they are")
}

// Phases without a colour are one trend: their sum where several are known, a limit only where none is more.
func TestSumOfPhasesWithoutAColour(t *testing.T) {
	shares := make([]result.SeriesShare, Colours+3)
	for k := range shares {
		shares[k] = result.SeriesShare{Detected: true, WeightPercent: value(5), WeightPercentLo: value(4), WeightPercentHi: value(6)}
	}
	sum := func() (trendPoint, bool) { return sumPoint(result.SeriesEntry{Phases: shares}, 0) }
	p, ok := sum()
	assert.True(t, ok)
	assert.InDelta(t, 15, p.value, 1e-12)
	assert.True(t, math.IsNaN(p.lo), "how they vary together is not known")
	below := result.SeriesShare{DetectionLimit: value(0.4)}
	shares[Colours] = below
	p, _ = sum()
	assert.InDelta(t, 10, p.value, 1e-12, "a limit adds nothing")
	assert.False(t, p.limit)
	shares[Colours+1], shares[Colours+2] = below, below
	p, ok = sum()
	assert.True(t, ok && p.limit)
	assert.InDelta(t, 0.4, p.value, 1e-12)
	for k := range 3 {
		shares[Colours+k] = result.SeriesShare{}
	}
	_, ok = sum()
	assert.False(t, ok, "nothing is known")
	_, ok = sumPoint(result.SeriesEntry{Phases: shares[:Colours]}, 0)
	assert.False(t, ok, "none is without a colour")
}

// Lines without indices are named by their spacing, in the words of the language.
func TestEvidenceOfLinesWithoutIndices(t *testing.T) {
	doc := twoPhases().Document
	for i := range doc.Phases[0].Lines {
		l := &doc.Phases[0].Lines[i]
		l.D, l.Observed, l.ObservedU = 2.0+0.1234*float64(i), value(l.Expected), value(1)
	}
	f, err := Evidence(doc, "A", Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "2.123 Å")
	german, err := Style{}.In("de")
	require.NoError(t, err)
	f, err = Evidence(doc, "a", german)
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "2,123 Å")
}

// What is observed over what is expected stands at its height on a logarithmic axis: by hand, a half lies as far below 1 as 2 lies above.
func TestRatiosOfEvidence(t *testing.T) {
	for _, c := range []struct {
		line result.PhaseLine
		r, u float64
		ok   bool
	}{
		{result.PhaseLine{Expected: 100, Observed: value(50), ObservedU: value(5)}, 0.5, 0.05, true},
		{result.PhaseLine{Expected: 100, Observed: value(50)}, 0.5, 0, true},
		{result.PhaseLine{Expected: 100, Observed: value(-3)}, 0, 0, false},
		{result.PhaseLine{Expected: 0, Observed: value(50)}, 0, 0, false},
		{result.PhaseLine{Expected: 100}, 0, 0, false},
		{result.PhaseLine{Expected: math.NaN(), Observed: value(1)}, 0, 0, false},
	} {
		r, u, ok := ratio(c.line)
		assert.Equal(t, c.ok, ok)
		assert.InDelta(t, c.r, r, 1e-12)
		assert.InDelta(t, c.u, u, 1e-12)
	}
}

// The ends of a calibration's axes hold every value with room, begin at the floor where nothing is below it, and exist where nothing is known.
func TestReachOfACalibration(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	for range 200 {
		var spots []spot
		for range 1 + rnd.IntN(9) {
			spots = append(spots, spot{value: rnd.NormFloat64()})
		}
		lo, hi := reach(spots, nil, math.Inf(1))
		for _, s := range spots {
			assert.True(t, lo < s.value && s.value < hi)
		}
	}
	lo, hi := reach([]spot{{value: 2}, {value: 4}}, []spot{{value: 3}}, 0)
	assert.Equal(t, []float64{0, 4.4}, []float64{lo, hi}, "a tenth of what is told")
	lo, hi = reach([]spot{{value: 2}, {value: 2}}, nil, math.Inf(1))
	assert.Equal(t, []float64{1, 3}, []float64{lo, hi}, "one value")
	lo, hi = reach(nil, nil, math.Inf(1))
	assert.Equal(t, []float64{0, 1}, []float64{lo, hi}, "none")
}

// The figure of what is only peaks enlarges peaks; with indices asked for, insets have room for them.
func TestInsetsOfPeaksAndIndices(t *testing.T) {
	r := bare()
	f, err := Pattern(r, Style{}, PatternOptions{Insets: [][2]float64{{34, 38}}})
	require.NoError(t, err)
	requireFree(t, f, "peaks alone")
	f, err = Pattern(resulttest.Mixture(1), Style{}, PatternOptions{HKL: true, Insets: [][2]float64{{100, 106}}})
	require.NoError(t, err)
	requireFree(t, f, "indices")
	n := 0
	for _, it := range items(f) {
		if it.label != nil && it.label.vertical && strings.Count(it.label.text, " ") == 2 {
			n++
		}
	}
	assert.Positive(t, n)
}

// No text of the smaller figures leaves the page or lies on another, in any medium and language.
func TestSmallFiguresAreFree(t *testing.T) {
	length, layer := 8.0, 2.0
	p := result.Plan{Drawn: resulttest.Mixture(1), Specimen: result.PlannedSpecimen{LengthMM: &length, LayerUM: &layer}}
	for _, ph := range p.Drawn.Document.Phases {
		p.Phases = append(p.Phases, result.PlannedPhase{ID: ph.ID, Name: ph.Name, DepthUM: [3]float64{0.6, 4.8, 77.25}})
	}
	for at := 10.0; at <= 150; at += 10 {
		p.Footprint.Rows = append(p.Footprint.Rows, result.FootprintRow{TwoTheta: at, LengthMM: 300 / at, Share: math.Min(1, at/40)})
	}
	c := result.Calibration{Standard: strings.Repeat("a standard of a long name ", 4), Range: [2]float64{20, 140}, Radiation: xrd.Radiation{KAlpha1: 1.5406}}
	for name, s := range styles() {
		german, err := s.In("de")
		require.NoError(t, err)
		for _, style := range []Style{s, german} {
			f, err := Calibration(c, style)
			require.NoError(t, err)
			requireFree(t, f, name+" calibration")
			requireFree(t, Depths(p, style), name+" depths")
			requireFree(t, FootprintFigure(p, style), name+" footprint")
			f, err = Sticks([]refdata.Phase{reference(t, "corundum", stick(35, 100, 1, 0, 4), stick(35.2, 90, 0, 1, 2), stick(57, 80, 2, 1, 1))}, style)
			require.NoError(t, err)
			requireFree(t, f, name+" sticks")
		}
	}
	assert.Nil(t, FootprintFigure(result.Plan{}, Style{}), "a slit that does not say")
}

// A medium that is not known is a number, and says so.
func TestMediaHaveNames(t *testing.T) {
	for m := TwoColumn; m <= Slide; m++ {
		got, err := ParseMedium(m.String())
		require.NoError(t, err)
		assert.Equal(t, m, got)
	}
	assert.Equal(t, "medium 7", Medium(7).String())
	assert.Equal(t, "medium -1", Medium(-1).String())
}

// Colours depend on ids alone: any order, any case, and phases that are not there change no slot of the first seven.
func TestColouringIsOfTheSet(t *testing.T) {
	rnd := rand.New(rand.NewPCG(9, 3))
	for range 300 {
		ids := make([]string, 1+rnd.IntN(Colours))
		for i := range ids {
			ids[i] = fmt.Sprintf("phase-%d", rnd.IntN(1e6))
		}
		slices.Sort(ids)
		ids = slices.Compact(ids)
		want := map[string]int{}
		for i, s := range Colouring(ids) {
			want[ids[i]] = s
		}
		other := slices.Clone(ids)
		rnd.Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
		upper := make([]string, len(other))
		for i := range other {
			upper[i] = strings.ToUpper(other[i])
		}
		used := map[int]bool{}
		for i, s := range Colouring(upper) {
			assert.Equal(t, want[other[i]], s)
			assert.True(t, s >= 0 && s < Colours && !used[s], "one colour each")
			used[s] = true
		}
	}
}

// A bar chart counts what it has no room for.
func TestRowsThatHaveNoRoom(t *testing.T) {
	doc := result.Document{}
	for i := range 9 {
		doc.NotDetected = append(doc.NotDetected, result.NotDetected{ID: fmt.Sprint(i), Name: fmt.Sprint("phase ", i), Asked: i != 3, DetectionLimit: value(0.5)})
	}
	bars, rest := fractionBars(doc, Style{})
	assert.Len(t, bars, maxLimits)
	assert.Equal(t, 2, rest, "eight were asked for, six are shown")
	for i := range 40 {
		doc.Phases = append(doc.Phases, result.Phase{ID: fmt.Sprint("p", i), Name: "p", Budget: []result.BudgetItem{{Source: "counting", UWeightPercent: 3}, {Source: "reference", UWeightPercent: 4}}})
	}
	f, err := Budget(doc, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "3  (together 5)", "√(3² + 4²)")
	assert.Contains(t, f.Texts(), "and 25 more", "two rows a phase, up to four times the colours")
}
