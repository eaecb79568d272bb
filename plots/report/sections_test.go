package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// A micrograph beside the scan: half-widths are 1.96 standard uncertainties, what was not measured is a dash, and where the two disagree nothing
// is combined.
func TestMicrographBesideTheScan(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.Empty(t, report.Micrograph(doc))
	doc.Micrograph = &result.Micrograph{Agree: true, Phases: []result.AreaOf{
		{ID: "corundum", AreaPercent: ptr(31), AreaU: ptr(2), VolumePercent: ptr(34.1), VolumeU: ptr(0.3), Z: ptr(-1.53), CombinedVolume: ptr(34), CombinedVolumeLo: ptr(33.4), CombinedVolumeHi: ptr(34.6),
			CombinedWeight: ptr(31.3), CombinedWeightLo: ptr(30.8), CombinedWeightHi: ptr(31.8)},
		{ID: "not-in-the-document", VolumePercent: ptr(65.9)}}}
	want := [][]string{
		{"micrograph", "area", "%", "vol%", "by", "diffraction", "z", "combined", "vol%", "combined", "wt%"},
		{"corundum", "31", "±", "4", "34.1", "±", "0.6", "−1.5", "34.0", "±", "0.6", "31.3", "±", "0.5"},
		{"not-in-the-document", "–", "?", "–"},
	}
	lines := strings.Split(strings.TrimSpace(report.Micrograph(doc)), "\n")
	require.Len(t, lines, 4)
	for k, w := range want {
		assert.Equal(t, w, strings.Fields(lines[k]))
	}
	assert.Equal(t, "Combined: area and diffraction together, by generalised least squares; 95 %.", lines[3])

	doc.Micrograph.Agree, doc.Micrograph.P = false, ptr(0.0004)
	text := report.Micrograph(doc)
	assert.Contains(t, text, "Area and diffraction disagree; nothing is combined.")
	assert.NotContains(t, text, "34.0 ± 0.6")
	assert.True(t, strings.HasSuffix(report.Sentence(doc), "The micrograph contradicts these numbers (p = 0.0004)."))
	html := page(t, result.Analysis{Document: doc, Curves: resulttest.Mixture(1).Curves})
	assert.NotContains(t, html, "34.0 ± 0.6")
	assert.Contains(t, html, "31 ± 4")
}

// A hazard is told once, with all phases that bring it, in the order in which the phases come.
func TestHazardsAreToldOnce(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.Empty(t, report.HazardNotes(doc))
	lead, silica := result.Hazard{Code: "lead", Text: "Its dust poisons."}, result.Hazard{Code: "silica", Text: "Its dust scars\nlungs."}
	doc.Phases[0].Hazards, doc.Phases[1].Hazards, doc.Phases[2].Hazards = []result.Hazard{lead}, []result.Hazard{silica, lead}, []result.Hazard{lead}
	want := "\nHazard, corundum, fluorite and zincite: Its dust poisons.\nHazard, fluorite: Its dust scars lungs.\n"
	assert.Equal(t, want, report.HazardNotes(doc))
	var b bytes.Buffer
	require.NoError(t, report.Text(&b, doc))
	assert.Contains(t, b.String(), want)
	assert.Equal(t, []string{"corundum, fluorite and zincite: Its dust poisons.", "fluorite: Its dust scars lungs."}, report.AnswerOf(doc).Hazards)
}

// spanned is a mixture of which nobody said how large its regions are.
func spanned(how result.Absorption) result.Document {
	doc := resulttest.Mixture(1).Document
	doc.Absorption, doc.Scan.Section = how, "transverse"
	for i := range doc.Phases {
		p := &doc.Phases[i]
		p.FineLimitWeightPercent, p.FineLimitLo, p.FineLimitHi = ptr(*p.WeightPercent-3), ptr(*p.WeightPercent-3.5), ptr(*p.WeightPercent-2.5)
		p.CoarseLimitWeightPercent, p.CoarseLimitLo, p.CoarseLimitHi = ptr(*p.WeightPercent+3), ptr(*p.WeightPercent+2.5), ptr(*p.WeightPercent+3.5)
		p.WeightPercentLo, p.WeightPercentHi = p.FineLimitLo, p.CoarseLimitHi
	}
	return doc
}

// Where two limits are all that is known, every text says between which amounts a phase lies, and why; none says ±.
func TestSpansAreSaidAsSpans(t *testing.T) {
	for how, why := range map[result.Absorption]string{
		result.AbsorptionLimits: "from fine to coarse regions, whose size is not stated",
		result.AbsorptionEither: "from a fine powder to a coarse section, since neither is stated; --section says which",
	} {
		doc := spanned(how)
		sentence := report.Sentence(doc)
		assert.Contains(t, sentence, why)
		assert.NotContains(t, sentence, "±")
		assert.Contains(t, sentence, "fluorite between 31 and 38 wt%") // 34.37 − 3.5 = 30.87 and + 3.5 = 37.87, half-width 3.5
		for _, row := range report.Cells(doc)[1:4] {
			assert.True(t, strings.HasPrefix(row[2], "between "), row[2])
		}
		var b bytes.Buffer
		require.NoError(t, report.Text(&b, doc))
		columns := map[result.Absorption][]string{result.AbsorptionLimits: {"if fine", "if coarse"}, result.AbsorptionEither: {"if a fine powder", "if a coarse section"}}
		for other, names := range columns {
			for _, n := range names {
				assert.Equal(t, how == other, strings.Contains(b.String(), n+" ") || strings.Contains(b.String(), n+"\n"), "%s: %s", how, n)
			}
		}
		if how == result.AbsorptionEither {
			assert.Contains(t, b.String(), "31.4 (30.9–31.9)", "34.37 − 3 of fluorite, with its interval")
		}
		html := page(t, result.Analysis{Document: doc, Curves: resulttest.Mixture(1).Curves})
		assert.Contains(t, html, map[result.Absorption]string{result.AbsorptionLimits: "if regions are fine: 31, coarse: 37", result.AbsorptionEither: "if a fine powder: 31.4 (30.9–31.9)"}[how])
		assert.Contains(t, report.AnswerOf(doc).Methods, map[result.Absorption]string{result.AbsorptionLimits: "; intervals run from the limit of fine to that of coarse regions", result.AbsorptionEither: "; intervals run from a fine powder to a section"}[how])
	}
	assert.Empty(t, report.Coarse(spanned(result.AbsorptionLimits)), "the table has both limits")
}

// A standard gives amounts of the original specimen: they come first, the crystalline part after it, spans as spans.
func TestOriginalSpecimenFirst(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Absolute = &result.Absolute{Method: "internal standard", Standard: "silicon", StandardWeightPercent: ptr(10), AmorphousWeightPercent: ptr(20), AmorphousLo: ptr(18), AmorphousHi: ptr(22)}
	for i := range doc.Phases {
		p := &doc.Phases[i]
		p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi = ptr(0.8**p.WeightPercent), ptr(0.8**p.WeightPercentLo), ptr(0.8**p.WeightPercentHi)
	}
	assert.Equal(t, "The original specimen of mixture A (invented) holds fluorite 27.5 ± 0.4, zincite 27.4 ± 0.5", strings.ReplaceAll(report.Sentence(doc)[:97], " wt%", ""))
	assert.Contains(t, report.Sentence(doc), "20 ± 2 wt% amorphous or unidentified material (95 % intervals, of everything that was scanned but the added silicon). Of the crystalline part alone: fluorite 34.4 ± 0.5 wt%")
	html := page(t, result.Analysis{Document: doc, Curves: resulttest.Mixture(1).Curves})
	assert.Contains(t, html, "amorphous")
	assert.Contains(t, html, "27.5")

	doc.Absolute.AmorphousWeightPercent, doc.Absolute.AmorphousLo, doc.Absolute.AmorphousHi = ptr(0), ptr(0), ptr(1.23)
	assert.Contains(t, report.Sentence(doc), "and no amorphous or unidentified material that could be told (at most 1.3 wt%)", "rounded up")
	doc.Absolute.AmorphousHi = ptr(0)
	assert.Contains(t, report.Sentence(doc), "and no amorphous or unidentified material (95 % intervals")
	doc.Absolute.AmorphousWeightPercent, doc.Absolute.AmorphousLo, doc.Absolute.AmorphousHi = ptr(20), ptr(12), ptr(28)
	spans := spanned(result.AbsorptionLimits)
	spans.Absolute = doc.Absolute
	for i := range spans.Phases {
		p := &spans.Phases[i]
		p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi = ptr(0.8**p.WeightPercent), ptr(0.8**p.WeightPercentLo), ptr(0.8**p.WeightPercentHi)
	}
	assert.Contains(t, report.Sentence(spans), "between 12 and 28 wt% amorphous")
	assert.Contains(t, report.Sentence(spans), "but the added silicon; from fine to coarse regions")
}
