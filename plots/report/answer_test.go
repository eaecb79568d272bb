package report_test

import (
	"encoding/json"
	"html/template"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// The page of a session says of a document what the report says: the same sentence, amounts and cautions.
func TestAnswerSaysWhatTheReportSays(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Choices = []string{"cuprite left out of the fit"}
	a := report.AnswerOf(r.Document)
	page, err := report.HTML(r, report.Options{})
	require.NoError(t, err)
	html := string(page)
	sub := strings.NewReplacer(report.Below, "<sub>", report.Level, "</sub>")
	assert.True(t, strings.Contains(html, "<h1><bdi>"+sub.Replace(a.Sentence)), a.Sentence)
	require.NotEmpty(t, a.Claims)
	for _, c := range a.Claims {
		assert.True(t, strings.Contains(html, sub.Replace(c.Name)), c.Name)
		assert.True(t, strings.Contains(html, template.HTMLEscapeString(c.Weight)), c.Weight)
		assert.True(t, strings.Contains(html, c.Interval), c.Interval)
	}
	for _, d := range a.Doubts {
		assert.True(t, strings.Contains(html, "<code>"+d.Code+"</code>"), d.Code)
	}
	assert.Contains(t, a.Methods, "Chosen by hand while looking at the fit: cuprite left out of the fit.")
	assert.True(t, strings.Contains(html, "Chosen by hand while looking at the fit: cuprite left out of the fit."))
	assert.Len(t, report.Cells(r.Document)[1], len(report.Cells(r.Document)[0]))
	assert.NotContains(t, report.AnswerOf(resulttest.Mixture(1).Document).Methods, "by hand")
	for _, c := range report.AnswerOf(resulttest.Empty().Document).Claims {
		assert.False(t, c.Seen, c.ID)
	}
}

// Texts from files cannot bring the marks with them.
func TestAnswerOfHostileTexts(t *testing.T) {
	b, err := json.Marshal(report.AnswerOf(hostile().Document))
	require.NoError(t, err)
	assert.NotContains(t, string(b), "\\u202e")
	d := result.Document{Phases: []result.Phase{{ID: "x", Name: "a\x02b\x03", Origin: "specimen"}}}
	assert.Equal(t, "ab", report.AnswerOf(d).Claims[0].Name)
}

// curves reads what the figure gets.
func curves(t *testing.T, r result.Analysis, v report.View) (out struct {
	X, Obs  []float64
	Whole   []float64
	Points  int
	Preview []struct {
		I int
		V []float64
	}
}) {
	t.Helper()
	b, err := report.Curves(r, v)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(b, &out))
	return out
}

// A part of a long scan: every peak of the part is there, few points are, and the whole range is told.
func TestCurvesOfAPart(t *testing.T) {
	r := resulttest.Mixture(1)
	c := r.Curves
	all := curves(t, r, report.View{})
	assert.Equal(t, len(c.TwoTheta), len(all.X))
	assert.Empty(t, all.Whole)
	lo, hi := 30.013, 60.007 // between two points
	part := curves(t, r, report.View{Lo: lo, Hi: hi, Most: 200, Preview: make([]float64, len(c.TwoTheta))})
	assert.LessOrEqual(t, len(part.X), 202)
	assert.Equal(t, []float64{c.TwoTheta[0], c.TwoTheta[len(c.TwoTheta)-1]}, part.Whole)
	assert.Equal(t, len(c.TwoTheta), part.Points)
	assert.LessOrEqual(t, part.X[0], lo)
	assert.GreaterOrEqual(t, part.X[len(part.X)-1], hi)
	most, seen := 0.0, 0.0
	for i, x := range c.TwoTheta {
		if x >= lo && x <= hi {
			most = math.Max(most, c.Observed[i])
		}
	}
	for _, y := range part.Obs {
		seen = math.Max(seen, y)
	}
	assert.InEpsilon(t, most, seen, 1e-3, "the highest point is not lost")
	assert.Empty(t, part.Preview, "nothing to be seen")
	one := make([]float64, len(c.TwoTheta))
	one[1000] = 1e6
	assert.Equal(t, []float64{1e6}, curves(t, r, report.View{Preview: one}).Preview[0].V)
}

// What makes an answer doubtful is told in one sentence; the first reason against a name stands beside it, and none beside a sure one.
func TestDoubtsInBrief(t *testing.T) {
	reason := func(code, text string) result.Reason { return result.Reason{Code: code, Text: text} }
	doc := result.Document{
		Phases: []result.Phase{
			{ID: "a", Evidence: result.Probable, Origin: "specimen", Reasons: []result.Reason{reason("significance", "strong"), reason("own-peaks", "its lines make 26 separate peaks"), reason("contested", "its lines may be those of what is missing")}},
			{ID: "b", Evidence: result.Tentative, Origin: "specimen", Reasons: []result.Reason{reason("significance", "strong"), reason("own-peaks", "its lines make 2 separate peaks")}},
			{ID: "c", Evidence: result.Established, Origin: "specimen", Reasons: []result.Reason{reason("contested", "nothing that counts")}},
		},
		Cautions: []xrd.Caution{
			{Code: "one", Severity: xrd.SeverityCaution, Text: "Half of it, 3.5 %, is missing. Fractions are of the rest."},
			{Code: "two", Severity: xrd.SeverityStop, Text: "Nothing holds"},
		},
	}
	a := report.AnswerOf(doc)
	doubt := map[string]string{}
	for _, c := range a.Claims {
		doubt[c.ID] = c.Doubt
	}
	assert.Equal(t, map[string]string{"a": "its lines may be those of what is missing", "b": "its lines make 2 separate peaks", "c": ""}, doubt)
	require.Len(t, a.Doubts, 2)
	assert.Equal(t, []string{"Nothing holds", "Half of it, 3.5 %, is missing."}, []string{a.Doubts[0].Brief, a.Doubts[1].Brief}, "the gravest first")
	assert.Equal(t, "Half of it, 3.5 %, is missing. Fractions are of the rest.", a.Doubts[1].Text)
}
