package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

// TestLimitsWithoutNumbers: a limit that is not known says why.
func TestLimitsWithoutNumbers(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.NotDetected = []result.NotDetected{{ID: "a", Name: "a", Asked: true}, {ID: "b", Name: "b", Asked: true, DetectionLimit: at(0.5)}}
	assert.Contains(t, report.NotSeen(doc), "a (limit not known: no reference intensity ratio, or no line in the range)")
	assert.Contains(t, report.NotSeen(doc), "b < 0.5")
	doc.NotDetected = doc.NotDetected[:1]
	assert.Contains(t, report.NotSeen(doc), "(limits not known: no fractions are given")
	doc.Phases = nil
	assert.Contains(t, report.NotSeen(doc), "no limit in wt%, since nothing was found that it could be a share of")
}

// A phase that was asked for is not "not seen" in a scan that is not explained: what is left may be its own. Where there is no peak at
// all, or where the rest is explained, it is not there.
func TestUnexplainedScansJudgeNoPhase(t *testing.T) {
	r := resulttest.Mixture(1)
	doc := &r.Document
	doc.NotDetected = []result.NotDetected{{ID: "a", Name: "Bi-2212", Asked: true}, {ID: "b", Name: "quartz"}}
	for verdict, judged := range map[result.Verdict]bool{result.Complete: true, result.Partial: true, result.None: false} {
		doc.Explanation.Verdict = verdict
		text := report.NotSeen(*doc)
		assert.Equal(t, judged, strings.Contains(text, "not seen"), verdict)
		assert.Equal(t, !judged, strings.Contains(text, "Not judged, since the scan is not explained: Bi-2212."), verdict)
		assert.Equal(t, judged, strings.Contains(text, "quartz"), "a watched phase that nobody asked for")
		assert.Equal(t, !judged, strings.Contains(page(t, r), "not judged, since the scan is not explained"), verdict)
		claims := report.AnswerOf(*doc).Claims
		assert.Equal(t, judged, claims[len(claims)-1].Evidence == "not seen", verdict)
		assert.Equal(t, judged, strings.Contains(string(resultfile.FractionsCSV(*doc)), "not detected"), verdict)
	}
	doc.Peaks = nil
	assert.Contains(t, report.NotSeen(*doc), "not seen", "nothing is seen at all")
}
