package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
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
