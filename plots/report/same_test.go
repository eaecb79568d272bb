package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func at(v float64) *float64 { return &v }

// What several scans of a specimen say stands in the text and in the page, in words that follow the probability.
func TestSameSpecimen(t *testing.T) {
	r := resulttest.Mixture(1)
	assert.Empty(t, report.SameSpecimen(r.Document))
	p := r.Document.Phases[0]
	r.Document.SameSpecimen = &result.SameSpecimen{ChiSquare: at(0.5), Freedom: 1, P: at(0.48), Between: at(0.012), Scans: []result.ScanOf{
		{File: "a.xy", Section: "longitudinal", Phases: []result.PhaseOf{{ID: p.ID, WeightPercent: at(70), WeightPercentLo: at(68), WeightPercentHi: at(72)}}},
		{File: "b.xy", Phases: []result.PhaseOf{{ID: p.ID, WeightPercent: at(69), WeightPercentLo: at(67), WeightPercentHi: at(71),
			Texture: []result.Texture{{Pole: [3]int{1, 1, 1}, R: 0.76}}}}},
	}}
	text := report.SameSpecimen(r.Document)
	assert.Contains(t, text, "agree within their uncertainties (χ² 0.5 for 1, p = 0.48); beyond counting, amounts vary by 1.2 %")
	assert.Contains(t, text, "a.xy (longitudinal) alone: "+p.Name+" 70 ± 2 wt%")
	assert.Contains(t, text, "b.xy alone: "+p.Name+" 69 ± 2 wt%, r(1 1 1) = 0.76")
	page, err := report.HTML(r, report.Options{})
	require.NoError(t, err)
	assert.Contains(t, string(page), "one set of fractions")
	r.Document.SameSpecimen.P = at(0.001)
	assert.Contains(t, report.SameSpecimen(r.Document), "differ by more than their uncertainties")
}

// An external standard adds nothing to the powder; the sentence does not pretend that it does.
func TestAbsoluteOfAnExternalStandard(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Absolute = &result.Absolute{Method: "external standard", Standard: "corundum",
		AmorphousWeightPercent: at(25), AmorphousLo: at(20), AmorphousHi: at(30), KFactor: at(18990)}
	for i := range r.Document.Phases {
		r.Document.Phases[i].OriginalWeightPercent, r.Document.Phases[i].OriginalWeightPercentLo, r.Document.Phases[i].OriginalWeightPercentHi = at(30), at(28), at(32)
	}
	text := report.Sentence(r.Document)
	assert.Contains(t, text, "25 ± 5 wt% amorphous or unidentified material (95 % intervals, of everything that was scanned)")
	assert.NotContains(t, text, "added")
	assert.Contains(t, text, r.Document.Phases[0].Name+" 30 ± 2 wt%")
	assert.Regexp(t, "^The original specimen .*Of the crystalline part alone: ", text)
	assert.Regexp(t, "(?m)^phase +formula +original wt% +95 % +crystalline wt%", report.Table(r.Document))
	r.Document.Absolute.Standard, r.Document.Absolute.StandardWeightPercent = "corundum", at(20)
	assert.Contains(t, report.Sentence(r.Document), "everything that was scanned but the added corundum")
	var b strings.Builder
	require.NoError(t, report.Text(&b, r.Document))
	assert.Equal(t, 1, strings.Count(b.String(), "25 ± 5 wt%"), "told once")
	a := r.Document.Absolute
	a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi = at(-2), at(-13), at(2)
	assert.Contains(t, report.Sentence(r.Document), " and no amorphous or unidentified material that could be told (at most 2 wt%) (95 % intervals")
	a.AmorphousHi = at(-1)
	assert.Contains(t, report.Sentence(r.Document), " and no amorphous or unidentified material (95 % intervals")
	a.AmorphousWeightPercent, a.AmorphousLo, a.AmorphousHi = at(25), at(20), at(30)
	r.Document.Phases[0].OriginalWeightPercent = nil
	b.Reset()
	require.NoError(t, report.Text(&b, r.Document))
	assert.Contains(t, b.String(), "By the external standard method with corundum (20.00 wt% added), the original specimen holds 25 ± 5 wt% amorphous", "what the headline does not tell stands below")
	r.Document.Absolute = nil
	assert.NotContains(t, report.Sentence(r.Document), "original specimen")
}
