package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd/result"
)

func ptr(v float64) *float64 { return &v }

// found is an invented result: quartz established with a missing line, silver tentative.
func found() result.Document {
	line := func(at, expected, observed float64, verdict result.LineVerdict) result.PhaseLine {
		return result.PhaseLine{D: 3, TwoTheta: at, Expected: expected, Observed: ptr(observed), ObservedU: ptr(1), Own: verdict != result.LineOverlapped, Verdict: verdict}
	}
	return result.Document{
		Phases: []result.Phase{
			{ID: "ag", Name: "silver", Formula: "Ag", Evidence: "tentative", Origin: "preparation",
				Reasons: []result.Reason{{Code: "significance", Text: "stands", Value: ptr(7)}, {Code: "own-lines", Text: "1 of 1", Value: ptr(1)}}},
			{ID: "q", Name: "quartz", Formula: "SiO2", Evidence: "established", Origin: "specimen",
				Reasons: []result.Reason{{Code: "significance", Text: "its pattern stands out", Value: ptr(88.4)}, {Code: "own-lines", Text: "3 of 4", Value: ptr(3)},
					{Code: "missing-lines", Text: "1 line is missing", Value: ptr(1)}},
				Lines: []result.PhaseLine{line(20.86, 20, 19, result.LineSeen), line(26.64, 100, 101, result.LineSeen), line(50.1, 15, 0.2, result.LineMissing),
					line(60, 30, 31, result.LineOverlapped), line(62, 30, 31, result.LineDiffuse), {D: 1, TwoTheta: 120, Expected: 5, Verdict: result.LineOutside},
					line(68, 1, 0.5, result.LineWeak)}},
		},
		UnexplainedPeaks: []result.Unexplained{{TwoTheta: 38.21, D: 2.3536, Significance: 9, CouldBe: []string{"gold", "silver"}}},
	}
}

func TestEvidence(t *testing.T) {
	var b strings.Builder
	require.NoError(t, report.Evidence(&b, found()))
	text := b.String()
	assert.Less(t, strings.Index(text, "quartz  "), strings.Index(text, "silver  "), "the best established comes first in the table")
	for _, want := range []string{"88", "supports the phase", "missing: speaks against the phase", "under a line of another phase", "outside the scan",
		"too weak to tell", "too wide to tell", "its pattern stands out", "tentative, preparation", "38.21", "gold, silver"} {
		assert.Contains(t, text, want)
	}
}

func TestEvidenceOfNothing(t *testing.T) {
	var b strings.Builder
	require.NoError(t, report.Evidence(&b, result.Document{}))
	assert.NotContains(t, b.String(), "significance")
}

// The report takes the verdict on a line as it is, whatever the numbers beside it: a document without verdicts says none.
func TestVerdictsAreNotMadeAgain(t *testing.T) {
	doc := found()
	for i := range doc.Phases[1].Lines {
		doc.Phases[1].Lines[i].Verdict = ""
	}
	var b strings.Builder
	require.NoError(t, report.Evidence(&b, doc))
	assert.NotContains(t, b.String(), "speaks against")
	assert.NotContains(t, b.String(), "supports")
}

func TestSuspects(t *testing.T) {
	var b strings.Builder
	require.NoError(t, report.Suspects(&b, 38.2, 0.2, []result.Suspect{
		{ID: "silver", Formula: "Ag", D: 2.359, TwoTheta: 38.12, Intensity: 100, Rank: 1, Inside: true},
		{ID: "corundum", D: 2.38, TwoTheta: 37.8, Intensity: 42, Rank: 4, Preparation: true},
		{ID: "gold", D: 2.355, TwoTheta: 38.18, Intensity: 52, Rank: 2}}))
	for _, want := range []string{"its strongest", "4 of its strongest; preparation", "2 of its strongest; outside the given elements", "2.3590"} {
		assert.Contains(t, b.String(), want)
	}
	b.Reset()
	require.NoError(t, report.Suspects(&b, 38.2, 0.2, nil))
	assert.Contains(t, b.String(), "No phase")
}
