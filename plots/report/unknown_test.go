package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// TestUnknownIsExplained: a question mark has a legend, and stands only where a number is missing.
func TestUnknownIsExplained(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.NotContains(t, report.Table(doc), "?")
	doc.Phases[0].VolumePercent = nil
	assert.Contains(t, report.Table(doc), "?: not known; see the cautions.\n")
	doc.Phases[0].WeightPercent, doc.Phases[0].WeightPercentLo, doc.Phases[0].WeightPercentHi = nil, nil, nil
	doc.Phases[0].Origin = "preparation"
	assert.NotContains(t, report.Table(doc), "?")
	assert.Contains(t, report.Table(doc), "preparation: not in the 100 %")
	doc.Phases[0].Origin, doc.Explanation.Verdict = "specimen", result.None
	assert.NotContains(t, report.Table(doc), "?", "candidates have no numbers")
}
