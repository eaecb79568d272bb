package diagnose

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/identify"
	"phasetally/xrd/pattern"
	"phasetally/xrd/result"
)

// Every pair of a cause and what it explains: the consequence is a note that says so, or is not told at all; it stays what it is without the cause, with a
// cause that is less grave than asked for, and where the cause does not hold of this analysis.
func TestEveryPairOfCauseAndConsequence(t *testing.T) {
	for k, r := range causes {
		for _, code := range r.explains {
			earlier := slices.ContainsFunc(causes[:k], func(o cause) bool { return o.code == r.code && slices.Contains(o.explains, code) })
			severity := r.severity
			if severity == "" {
				severity = xrd.SeverityCaution
			}
			first := xrd.Caution{Code: r.code, Severity: severity, Text: "A cause."}
			then := xrd.Caution{Code: code, Severity: xrd.SeverityCaution, Text: "A consequence."}
			what := r.code + " → " + code
			alone := consequences(Evidence{}, []xrd.Caution{then})
			assert.Equal(t, []xrd.Caution{then}, alone, what)
			if r.severity != "" {
				mild := first
				mild.Severity = xrd.SeverityNote
				assert.Contains(t, consequences(Evidence{}, []xrd.Caution{mild, then}), then, what)
			}
			if r.holds != nil || earlier {
				continue
			}
			for _, list := range [][]xrd.Caution{{first, then}, {then, first}} { // in any order
				got := consequences(Evidence{}, slices.Clone(list))
				at := slices.IndexFunc(got, func(c xrd.Caution) bool { return c.Code == code })
				if r.silent {
					assert.Negative(t, at, what)
					continue
				}
				assert.Equal(t, xrd.SeverityNote, got[at].Severity, what)
				words := map[bool]string{false: "A consequence. It follows from another caution: ", true: "A consequence. It may follow from another caution: "}[r.may]
				assert.Equal(t, words+r.code+".", got[at].Text, what)
			}
			note := then
			note.Severity = xrd.SeverityNote
			got := consequences(Evidence{}, []xrd.Caution{first, note})
			assert.Equal(t, !r.silent, slices.ContainsFunc(got, func(c xrd.Caution) bool { return c.Text == note.Text && c.Code == code }), "%s: a note stays as it is, unless it means nothing", what)
		}
		assert.NotContains(t, r.explains, r.code, "nothing explains itself")
	}
}

// No caution explains another that explains it: there would be none left.
func TestCausesDoNotGoRound(t *testing.T) {
	explains := map[string][]string{}
	for _, r := range causes {
		explains[r.code] = append(explains[r.code], r.explains...)
	}
	for code := range explains {
		seen, next := map[string]bool{}, slices.Clone(explains[code])
		for len(next) > 0 {
			c := next[0]
			next = next[1:]
			if seen[c] {
				continue
			}
			seen[c] = true
			next = append(next, explains[c]...)
		}
		if seen[code] {
			t.Logf("%s is explained by what it explains", code) // allowed only where one of them has a condition
			conditional := slices.ContainsFunc(causes, func(r cause) bool {
				return r.code == code && r.holds != nil || slices.Contains(r.explains, code) && r.holds != nil
			})
			assert.True(t, conditional, code)
		}
	}
}

// What is left counts as explained by something else only where the explanation is partial, no name is in doubt and something is left.
func TestWhatIsLeftMustBeKnown(t *testing.T) {
	none := Evidence{}
	assert.False(t, nothingLeft(none, xrd.Caution{}))
	assert.False(t, leftOnLines(none, xrd.Caution{}))
	assert.False(t, leftByKBeta(none, xrd.Caution{}))
	assert.False(t, allSuspected(none, xrd.Caution{}))
	assert.Zero(t, none.leftArea())
	e := Evidence{Document: result.Document{Explanation: &result.Explanation{Verdict: result.Partial}}}
	assert.True(t, nothingLeft(e, xrd.Caution{}))
	assert.False(t, leftOnLines(e, xrd.Caution{}), "nothing is left to lie on lines")
	assert.False(t, leftByKBeta(e, xrd.Caution{}))
	e.Document.UnexplainedPeaks = []result.Unexplained{{TwoTheta: 40}}
	assert.False(t, nothingLeft(e, xrd.Caution{}))
	e.Document.UnexplainedPeaks = nil
	for _, spoil := range []func(*result.Explanation){func(x *result.Explanation) { x.Verdict = result.None }, func(x *result.Explanation) { x.DoubtedPhases = []string{"a"} },
		func(x *result.Explanation) { x.LeftOverPeaks = []result.LeftOverPeak{{TwoTheta: 40}} }} {
		x := result.Explanation{Verdict: result.Partial}
		spoil(&x)
		assert.False(t, nothingLeft(Evidence{Document: result.Document{Explanation: &x}}, xrd.Caution{}))
	}
}

// Of lines that may have a foot, those of a hundredth of the strongest and more count, the strongest first; each foot is where Bragg's law sends the edge.
func TestFeetOfLines(t *testing.T) {
	line := func(at, fitted float64) pattern.LineFit {
		return pattern.LineFit{TwoTheta: at, Fitted: fitted, FWHM: 0.1}
	}
	feet := feetOf([]identify.Match{{Lines: []pattern.LineFit{line(40, 10), line(43, 1000), line(50, 9.9), line(60, 0)}}, {Lines: []pattern.LineFit{line(30, 500)}}}, 1.5406, 1.488)
	require.Len(t, feet, 3, "9.9 is less than a hundredth, and nothing is nothing")
	for k, at := range []float64{43, 30, 40} {
		assert.InDelta(t, at, feet[k].at, 0)
		want := 2 * math.Asin(1.488/1.5406*math.Sin(at*math.Pi/360)) * 180 / math.Pi
		assert.InDelta(t, want, feet[k].foot, 1e-9)
		assert.Less(t, feet[k].foot, at)
	}
	assert.Empty(t, feetOf(nil, 1.54, 1.49))
	_, ok := EdgeStep(&identify.Explanation{})
	assert.False(t, ok, "nothing was fitted")
	_, _, solved := lastOf([]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, []float64{1, 2, 3, 4})
	assert.False(t, solved, "three numbers that are one")
}

// White radiation falls off with the distance of its wavelength from that of the line, begins at the foot, and adds up over lines.
func TestShapeOfWhiteRadiation(t *testing.T) {
	one := Step{lines: []lineFoot{{at: 43.3, foot: 41.8, fitted: 100, sine: math.Sin(43.3 * math.Pi / 360)}}}
	assert.Zero(t, one.shape(41.7), "below the foot")
	assert.Positive(t, one.shape(41.8))
	assert.Greater(t, one.shape(43.3), one.shape(50))
	assert.Zero(t, one.shape(80), "far beyond the wavelength")
	two := Step{lines: append(one.lines, one.lines...)}
	assert.InDelta(t, 2*one.shape(45), two.shape(45), 1e-9)
	// At its own line, of 40°, the height is that of the line: tan 20° cot 20° = 1.
	at := Step{lines: []lineFoot{{at: 40, foot: 38, fitted: 7, sine: math.Sin(20 * math.Pi / 180)}}}
	assert.InDelta(t, 7, at.shape(40), 1e-9)
}

// Greatest common divisors of indices, whatever their signs.
func TestDivisor(t *testing.T) {
	for _, c := range [][3]int{{6, 4, 2}, {-6, 4, 2}, {0, 5, 5}, {5, 0, 5}, {0, 0, 0}, {7, 3, 1}, {-8, -12, 4}} {
		assert.Equal(t, c[2], divisor(c[0], c[1]), "%v", c)
	}
	assert.Equal(t, "a, b and c", listed([]string{"a", "b", "c"}))
	assert.Equal(t, "a and b", listed([]string{"a", "b"}))
	assert.Empty(t, listed(nil))
	assert.Equal(t, "1 peak is", plural(1, "peak is", "peaks are"))
	assert.Equal(t, "0 peaks are", plural(0, "peak is", "peaks are"))
}
