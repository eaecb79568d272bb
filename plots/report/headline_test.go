package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd"
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

// A name that is only tentative is a candidate, not a finding, and the middle of a wide interval does not bring it to the front.
func TestTentativeNamesDoNotLead(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Phases = doc.Phases[:2]
	a, b := &doc.Phases[0], &doc.Phases[1]
	a.Name, a.Origin, a.Evidence, a.WeightPercent, a.WeightPercentLo, a.WeightPercentHi = "diamond", "specimen", result.Tentative, at(77), at(5), at(82)
	b.Name, b.Origin, b.Evidence, b.WeightPercent, b.WeightPercentLo, b.WeightPercentHi = "nickel", "specimen", result.Tentative, at(23), at(10), at(92)
	assert.Contains(t, report.Sentence(doc), " no phase is sure; the candidates are nickel 23 (10–92) wt% (tentative) and diamond 77 (5–82) wt% (tentative)")
	assert.Less(t, strings.Index(report.Table(doc), "nickel"), strings.Index(report.Table(doc), "diamond"))
	assert.Equal(t, "nickel (tentative) 23 (10–92), diamond (tentative) 77 (5–82) wt%", plots.Answer(doc, &plots.English))
	b.Evidence = result.Probable
	assert.Contains(t, report.Sentence(doc), " we found nickel 23 (10–92) wt% (probable) and diamond", "one name that holds")
	a.Evidence = result.Established
	assert.Contains(t, report.Sentence(doc), " we found diamond 77 (5–82) wt% and nickel", "a name that holds stands by its fraction")
	doc.Phases = doc.Phases[1:]
	b.Evidence, doc.HiddenLimit = result.Tentative, at(90)
	assert.Contains(t, report.Sentence(doc), " no phase is sure; the candidate is nickel (tentative) and nothing else: at least 10 wt%")
}

// A phase alone is all of it in a powder as in a section: no limits that both read 100, no span, and a title that says how much it is
// at least.
func TestAloneHasNoLimits(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Absorption, doc.Phases = result.AbsorptionEither, doc.Phases[:2]
	for i := range doc.Phases {
		p := &doc.Phases[i]
		p.Origin, p.FineLimitWeightPercent, p.CoarseLimitWeightPercent = "specimen", at(100), at(100)
	}
	assert.Contains(t, report.Table(doc), "if a coarse section")
	assert.True(t, doc.Spanned())
	doc.Phases = doc.Phases[:1]
	doc.Phases[0].WeightPercent, doc.Phases[0].WeightPercentLo, doc.Phases[0].WeightPercentHi = at(100), at(96.9), at(100)
	assert.NotContains(t, report.Table(doc), "if a coarse section")
	assert.False(t, doc.Spanned())
	assert.Equal(t, doc.Phases[0].Name+" ≥ 96.9 wt%", plots.Answer(doc, &plots.English))
	r := resulttest.Mixture(1)
	r.Document = doc
	assert.NotContains(t, page(t, r), "if a fine powder")
}

// Beside a standard a title says of what its per cents are.
func TestTitlesBesideAStandard(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.NotContains(t, plots.Answer(doc, &plots.English), "crystalline")
	doc.Absolute = &result.Absolute{Standard: "corundum"}
	assert.True(t, strings.HasSuffix(plots.Answer(doc, &plots.English), " wt%, of the crystalline part"))
}

// Absolute amounts are told within what can be, and a standard that the background contradicts is doubted in the headline.
func TestAbsoluteAmountsCanBe(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Phases = doc.Phases[:1]
	p := &doc.Phases[0]
	p.Origin, p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi = "specimen", at(99), at(91), at(109)
	doc.Absolute = &result.Absolute{Method: "internal standard", Standard: "zincite", StandardWeightPercent: at(60), AmorphousWeightPercent: at(1), AmorphousLo: at(-10), AmorphousHi: at(5)}
	s := report.Sentence(doc)
	assert.Contains(t, s, "99 (91–100) wt% and 1 (0–5) wt% amorphous")
	assert.Contains(t, report.Table(doc), "91–100")
	assert.NotContains(t, s, "doubtful")
	doc.Cautions = append(doc.Cautions, xrd.Caution{Code: "halo-missing"})
	assert.Contains(t, report.Sentence(doc), "The scan shows no hump of the amorphous part that the standard tells of: no absolute amounts.")
}
