package diagnose

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
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
