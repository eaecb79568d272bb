package report_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// TestAlone: 100 % by definition is told as what could hide beside it allows.
func TestAlone(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Phases = doc.Phases[:1]
	p := &doc.Phases[0]
	p.Origin, p.Evidence, p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi = "specimen", result.Established, at(100), at(98.6), at(100)
	doc.HiddenLimit = at(1.4)
	s := report.Sentence(doc)
	assert.Contains(t, s, "and nothing else: at least 98.6 wt% of the crystalline part")
	assert.Contains(t, s, "from 1.4 wt% on, an amorphous part not at all")
	assert.NotContains(t, s, "±")
	assert.Contains(t, report.Table(doc), "98.6–100.0")
	p.Evidence = result.Probable
	assert.Contains(t, report.Sentence(doc), p.Name+" (probable) and nothing else")
	doc.Explanation.Verdict = result.Partial
	assert.NotContains(t, report.Sentence(doc), "nothing else", "peaks are left")
	assert.Contains(t, report.Sentence(doc), p.Name+", at least 98.6 wt% (probable)")
	assert.NotContains(t, report.Sentence(doc), " 100")
}

// TestHeadlineTellsDoubts: a contradicting micrograph, and a preparation phase that is only tentative.
func TestHeadlineTellsDoubts(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Micrograph = &result.Micrograph{P: at(1e-14)}
	assert.Contains(t, report.Sentence(doc), "The micrograph contradicts these numbers (p = 1e-14).")
	doc.Micrograph.Agree = true
	assert.NotContains(t, report.Sentence(doc), "micrograph")
	last := &doc.Phases[len(doc.Phases)-1]
	last.Origin, last.Evidence = "preparation", result.Tentative
	assert.Contains(t, report.Sentence(doc), "besides, not counted, "+last.Name+" (preparation, tentative)")
}

// TestShareText: a part is never told as all of it.
func TestShareText(t *testing.T) {
	for share, want := range map[float64]string{0.997: "more than 99 %", 1: "more than 99 %", 0.994: "99 %", 0.62: "62 %", 0.001: "less than 1 %"} {
		doc := resulttest.Mixture(1).Document
		doc.Explanation.Verdict, doc.Explanation.ExplainedShare = result.Partial, at(share)
		assert.Contains(t, report.Sentence(doc), "what was recognised, "+want+" of the peak area")
	}
}
