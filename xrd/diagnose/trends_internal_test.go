package diagnose

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
)

// tilted fits two invented phases whose lines are made weaker or stronger by a function of sin θ each, and counts them.
func tilted(t *testing.T, tilt ...func(sin float64) float64) Evidence {
	t.Helper()
	return tiltedOf(t, 8, tilt...)
}

// tiltedOf does so with so many lines of each phase, less one of the second.
func tiltedOf(t *testing.T, lines int, tilt ...func(sin float64) float64) Evidence {
	t.Helper()
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	set := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
	for x := 20.0; x < 110; x += 0.03 {
		set.TwoTheta = append(set.TwoTheta, x)
	}
	n := len(set.TwoTheta)
	set.Intensity, set.Sigma = make([]float64, n), make([]float64, n)
	for i := range set.Sigma {
		set.Sigma[i] = 10
	}
	whole := make([]float64, n)
	var phases []refdata.Phase
	for k, spacings := range [][]float64{{3.5, 2.8, 2.3, 1.9, 1.6, 1.35, 1.15, 1.0}, {3.1, 2.5, 2.1, 1.75, 1.48, 1.25, 1.08, 0.97}} {
		p := refdata.Phase{ID: string(rune('a' + k)), Name: string(rune('a' + k)), RIR: refdata.RIR{Value: 3}}
		for _, d := range spacings[:lines-k] {
			p.Lines = append(p.Lines, refdata.Line{D: d, Intensity: 60 + 40*math.Mod(7*d, 1)})
		}
		phases = append(phases, p)
		for i, y := range pattern.Calculate(set, p, 3000, 0, 0) {
			whole[i] += y * tilt[k%len(tilt)](math.Sin(set.TwoTheta[i]*math.Pi/360))
		}
	}
	rnd := rand.New(rand.NewPCG(5, 7))
	for i := range whole {
		y := 100 + whole[i]
		set.Intensity[i] = math.Max(0, math.Round(y+math.Sqrt(y)*rnd.NormFloat64()))
		set.Sigma[i] = math.Sqrt(math.Max(1, set.Intensity[i]))
	}
	set.Phases = phases
	fit, err := pattern.Run(t.Context(), set, pattern.Quick)
	require.NoError(t, err)
	e := Evidence{Facts: Facts{Radiation: cu}, Explanation: &identify.Explanation{Fit: fit}}
	for p := range phases {
		e.Explanation.Matches = append(e.Explanation.Matches, identify.Match{Phase: phases[p], Lines: fit.Lines(p)})
	}
	return e
}

// Intensities of all phases that go as a power of sin θ have that power as their slope (an automatic slit: 1; Klug & Alexander 1974, from memory:
// the lit length R δ/sin θ is held); one that ends tells where, and a specimen whose length is stated has been corrected already.
func TestTrendsOfAllPhases(t *testing.T) {
	flat := func(float64) float64 { return 1 }
	rising := func(sin float64) float64 { return 2 * sin }
	falling := func(sin float64) float64 { return 0.4 / sin }
	short := func(sin float64) float64 { return math.Min(1, sin/math.Sin(25*math.Pi/180)) } // all of the beam from 50° on

	assert.Empty(t, trends(tilted(t, flat)), "nothing is wrong")

	e := tilted(t, rising)
	c := trends(e)
	require.Len(t, c, 1)
	assert.Equal(t, "slit-mode", c[0].Code)
	assert.InDelta(t, 1, c[0].Evidence["slope"], 0.15)
	assert.Contains(t, c[0].Text, "Intensities of all phases rise with the angle")
	assert.Contains(t, c[0].Remedy, "--slit automatic:MM")
	e.Explanation.Fit.Setup.Instrument.Geometry = xrd.Transmission
	assert.Empty(t, trends(e), "in transmission a slit leaves no such trend")

	c = trends(tilted(t, falling))
	require.Len(t, c, 1)
	assert.InDelta(t, -1, c[0].Evidence["slope"], 0.15)
	assert.Contains(t, c[0].Text, "Intensities of all phases fall with the angle")

	e = tilted(t, short)
	c = trends(e)
	require.Len(t, c, 1)
	assert.Equal(t, "beam-overspill", c[0].Code)
	assert.InDelta(t, 50, c[0].Evidence["full_above_two_theta"], 4)
	assert.Contains(t, c[0].Text, "Nothing was corrected.")
	e.Facts.Specimen.Length = 20
	c = trends(e)
	require.Len(t, c, 1)
	assert.Equal(t, "slit-mode", c[0].Code, "its length is stated: it is another thing")

	assert.Empty(t, trends(tiltedOf(t, 3, rising)), "five lines are no trend")
}

// A phase that weakens with the angle beside one that grows stronger is a layer over it.
func TestTrendsOfALayer(t *testing.T) {
	above, beneath := func(sin float64) float64 { return 1.5 * math.Exp(-0.2*(1-1/sin)) / 2 }, func(sin float64) float64 { return 3 * math.Exp(-0.6/sin) }
	c := trends(tilted(t, above, beneath))
	require.Len(t, c, 1)
	assert.Equal(t, "layered", c[0].Code)
	assert.Equal(t, "b", c[0].Evidence["beneath"])
	assert.Equal(t, "a", c[0].Evidence["above"])
}

// What was corrected without a word of the user is told with what it rests on.
func TestCorrectedSlits(t *testing.T) {
	e := tilted(t, func(float64) float64 { return 1 })
	e.Decided.Slit = &Slit{Automatic: true, Gain: 44, Lines: 12}
	c := trends(e)
	require.Len(t, c, 1)
	assert.Equal(t, "slit-mode", c[0].Code)
	assert.Contains(t, c[0].Text, "go as sin θ, as with an automatic divergence slit. They were corrected for it.")
	assert.Equal(t, map[string]any{"chi_square_gain": 44.0, "lines": 12}, c[0].Evidence)
	e.Decided.Slit = &Slit{Full: 43.7, Gain: 44, Lines: 12}
	c = trends(e)
	require.Len(t, c, 1)
	assert.Equal(t, "beam-overspill", c[0].Code)
	assert.Contains(t, c[0].Text, "Below about 44° lines of all phases grow weaker")
	assert.InDelta(t, 43.7, c[0].Evidence["full_above_two_theta"], 0)
}

// twoOrders are lines of a phase of which one plane shows two orders that differ by a factor, and three planes agree.
func twoOrders(factor float64) []pattern.LineFit {
	var out []pattern.LineFit
	for k, plane := range [][3]int{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 1, 0}} {
		for n := 1; n <= 2; n++ {
			observed := 100.0
			if k == 0 && n == 2 {
				observed *= factor
			}
			out = append(out, lineOf(n*plane[0], n*plane[1], n*plane[2], 3/float64(n*(k+1)), observed))
		}
	}
	return out
}

// Orders of the same planes that disagree by more than the lines of other phases scatter question the reference, whichever way it is made; what
// scatters as much elsewhere, differs by less than 15 %, or has too few lines beside it does not.
func TestReferenceThatContradictsItself(t *testing.T) {
	beside := func(scatter float64, n int) identify.Match {
		m := identify.Match{Phase: refdata.Phase{Name: "other"}}
		for k := range n {
			m.Lines = append(m.Lines, lineOf(1, 2, 3+k, 2, 100*(1+scatter*float64(1-2*(k%2)))))
		}
		return m
	}
	doubt := func(factor float64, other identify.Match) []xrd.Caution {
		listed := refdata.Phase{ID: "galena", Name: "galena"}
		return referenceDoubtful(Evidence{Explanation: &identify.Explanation{Matches: []identify.Match{{Phase: listed, Lines: twoOrders(factor)}, other}}}, 0)
	}
	c := doubt(3, beside(0.03, 12))
	require.Len(t, c, 1)
	assert.Contains(t, c[0].Text, "Intensities of galena disagree with its reference")
	assert.Contains(t, c[0].Text, "1 0 0 × 1.00 and 2 0 0 × 3.00 of what they should be")
	assert.Contains(t, c[0].Remedy, "instead of listed intensities")
	assert.Equal(t, "galena", c[0].Evidence["phase"])
	assert.NotEmpty(t, doubt(1/3.0, beside(0.03, 12)))
	assert.Empty(t, doubt(1.0, beside(0.03, 12)))
	assert.Empty(t, doubt(1.1, beside(0, 40)), "10 % is not worth saying")
	assert.Empty(t, doubt(3, beside(0.8, 12)), "lines of the other scatter as much")
	assert.Empty(t, doubt(3, beside(0.03, 5)), "nothing to compare with")
	assert.Contains(t, doubtfulRemedy(refdata.Phase{Lines: []refdata.Line{{Families: []refdata.Family{{F2: 10}}}}}), "newer determination of the structure")
}

// A cell that differs is told with its edges: those that are not the first, and only with an uncertainty.
func TestMeasuredCells(t *testing.T) {
	e := tilted(t, func(float64) float64 { return 1 })
	evidence := map[string]any{}
	assert.Empty(t, measuredCell(e.Explanation.Fit, 0, evidence), "lines alone have no cell")
	assert.Empty(t, evidence)
	cu := e.Facts.Radiation
	set := pattern.Setup{Gain: 1, Radiation: cu, Instrument: xrd.DefaultInstrument()}
	tin := refdata.Phase{ID: "t", Name: "t", RIR: refdata.RIR{Value: 3}, System: refdata.Tetragonal, Cell: &refdata.Cell{A: 4, B: 4, C: 6, Alpha: 90, Beta: 90, Gamma: 90}}
	for _, h := range [][3]int{{1, 0, 0}, {0, 0, 2}, {1, 0, 1}, {1, 1, 0}, {2, 0, 0}, {1, 0, 3}, {2, 1, 1}} {
		d := 1 / math.Sqrt(float64(h[0]*h[0]+h[1]*h[1])/16+float64(h[2]*h[2])/36)
		tin.Lines = append(tin.Lines, refdata.Line{D: d, Intensity: 80, Families: []refdata.Family{{H: h[0], K: h[1], L: h[2], Multiplicity: 4}}})
	}
	for x := 18.0; x < 90; x += 0.03 {
		set.TwoTheta = append(set.TwoTheta, x)
		set.Intensity, set.Sigma = append(set.Intensity, 50), append(set.Sigma, 8)
	}
	for i, y := range pattern.Calculate(set, tin, 900, 0, 0.006) {
		set.Intensity[i] += y
		set.Sigma[i] = math.Sqrt(set.Intensity[i])
	}
	set.Phases = []refdata.Phase{tin}
	fit, err := pattern.Run(t.Context(), set, pattern.Full)
	require.NoError(t, err)
	c := cellChanged(Evidence{Explanation: &identify.Explanation{Fit: fit, Matches: []identify.Match{{Phase: tin}}}}, 0)
	require.Len(t, c, 1)
	assert.Contains(t, c[0].Text, "differs from its reference by +0.60 % (a = 4.02", "4 Å × 1.006")
	assert.Contains(t, c[0].Text, ", c = 6.03", "6 Å × 1.006")
	assert.NotContains(t, c[0].Text, "b = ", "it is a")
	assert.InDelta(t, 4.024, c[0].Evidence["a"], 0.001)
	assert.InDelta(t, 6.036, c[0].Evidence["c"], 0.002)
	assert.Greater(t, c[0].Evidence["u_a"], 0.0)
}
