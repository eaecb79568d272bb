package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// The table stands in the text and in the page when lines were compared, and nowhere when not.
func TestLineCheck(t *testing.T) {
	r := resulttest.Mixture(1)
	for i := range r.Document.Phases {
		r.Document.Phases[i].LineRIR = nil
	}
	assert.Empty(t, report.LineCheck(r.Document))
	page, err := report.HTML(r, report.Options{})
	assert.NoError(t, err)
	assert.NotContains(t, string(page), "by single lines")

	at, w, lo, hi := 43.32, 68.7, 66.4, 70.9
	r.Document.Phases[0].LineRIR = &result.LineRIR{Lines: 5, SingleTwoTheta: &at, SingleWeightPercent: &w, SingleLo: &lo, SingleHi: &hi,
		MultiWeightPercent: &w, MultiLo: &lo, MultiHi: &hi}
	text := report.LineCheck(r.Document)
	assert.Contains(t, text, "43.32°")
	assert.Contains(t, text, "69 ± 2 (5)")
	assert.Equal(t, 3, strings.Count(text, "\n"), "one row for the phase that was compared")
	page, err = report.HTML(r, report.Options{})
	assert.NoError(t, err)
	assert.Contains(t, string(page), "by single lines")
	assert.Contains(t, string(page), "43.32")
}
