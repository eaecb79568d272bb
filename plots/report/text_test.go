package report_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func ExampleText() {
	_ = report.Text(os.Stdout, resulttest.Mixture(1).Document)
	// Output:
	// In mixture A (invented) we found fluorite 34.4 ± 0.5 wt%, zincite 34.2 ± 0.6 wt% and corundum 31.4 ± 0.5 wt% (95 % intervals, of the crystalline part).
	//
	// phase      formula    wt%        95 %   vol%   evidence
	// fluorite   CaF2      34.4   33.9–34.8   46.5   established
	// zincite    ZnO       34.2   33.6–34.8   26.0   established
	// corundum   Al2O3     31.4   30.9–31.9   34.1   established
	//
	// Looked for and not seen (detection limit, wt%): quartz < 0.32, magnetite < 0.9
	//
	// Caution: One peak, at 20.86°, belongs to no phase that was accepted.
	//   → Name the elements that may be present, or add the phase to a library. [unexplained-peaks]
	// Note: Fractions are of what diffracts sharply and was found.
	//   → Spike the powder with a weighed standard to learn the amorphous part. [sum-assumption]
}

func TestSentence(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Scan.Sample = "a\nb\u202e\x1b[31mc"
	doc.Phases[0].Origin = "preparation"
	doc.Phases[1].Evidence = "tentative"
	doc.Phases[2].WeightPercent, doc.Phases[2].Evidence = nil, "probable"
	got := report.Sentence(doc)
	assert.Equal(t, "In a b[31mc we found fluorite 34.4 ± 0.5 wt% (tentative) and zincite (amount unknown) (probable) (95 % intervals, of the crystalline part); besides, not counted, corundum (preparation).", got)

	assert.Equal(t, "In mixture A (invented) we found no phase that this scan establishes.", report.Sentence(resulttest.Empty().Document))
}

func TestTextOfManyAndNone(t *testing.T) {
	for _, n := range []int{1, 2, 40} {
		var b strings.Builder
		require.NoError(t, report.Text(&b, resulttest.Many(n).Document))
		assert.Equal(t, n, strings.Count(b.String(), "probable\n"))
	}
	var b strings.Builder
	require.NoError(t, report.Text(&b, resulttest.Empty().Document))
	assert.Contains(t, b.String(), "quartz")
	assert.Contains(t, b.String(), "< 0.8")
}

// TestPartAndNone: no fraction stands without what it is of when the scan is explained in part; a scan that is not explained has no
// fraction in its headline, but what would be needed, and its phases are candidates.
func TestPartAndNone(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.Contains(t, report.Sentence(doc), "of the crystalline part")
	doc.Explanation.Verdict, doc.Explanation.ExplainedShare = result.Partial, result.Number(0.62)
	doc.Phases[0].WeightPercent = result.Number(100)
	assert.Contains(t, report.Sentence(doc), "of what was recognised, 62 % of the peak area")
	assert.Contains(t, report.Table(doc), "Per cent of what was recognised.\n")
	section := doc
	section.Absorption, section.Phases = result.AbsorptionLimits, slices.Clone(doc.Phases)
	section.Phases[0].CoarseLimitWeightPercent, section.Phases[1].CoarseLimitWeightPercent = result.Number(40), result.Number(30)
	assert.Contains(t, report.Sentence(section), "of what was recognised, 62 % of the peak area; from fine to coarse", "a section, too")
	section.Absorption = result.AbsorptionEither
	assert.Contains(t, report.Sentence(section), "from a fine powder to a coarse section", "nobody said which")
	section.Phases[0].FineLimitWeightPercent, section.Phases[0].FineLimitLo, section.Phases[0].FineLimitHi = result.Number(50), result.Number(48), result.Number(52)
	assert.Regexp(t, `if a fine powder +if a coarse section`, report.Table(section))
	assert.Contains(t, report.Table(section), "50 (48–52)")
	doc.Explanation.Verdict, doc.Explanation.ExplainedShare = result.None, result.Number(0.2)
	s := report.Sentence(doc)
	assert.NotContains(t, s, "wt%")
	for _, want := range []string{"is not explained", "20 % of its peak area", "--radiation", "--elements", "--library", "Candidates: "} {
		assert.Contains(t, s, want)
	}
	doc.Explanation.Verdict, doc.Explanation.Radiation = result.Partial, "Co"
	assert.Contains(t, report.Sentence(doc), "--radiation Co")
	assert.NotContains(t, report.Sentence(doc), "wt%", "the tube is contradicted")
	doc.Explanation.Radiation, doc.Explanation.SingleWavelength = "Cu", true
	assert.Contains(t, report.Sentence(doc), "shows Kα1 and Kα2 apart. Needed: both wavelengths (--radiation Cu).")
	assert.NotContains(t, report.Sentence(doc), "wt%")
}

// What a scan lacks comes before what it may hold: more degrees, finer steps, the right column.
func TestNeededStartsWithTheScan(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Explanation.Verdict = result.None
	assert.Contains(t, report.Sentence(doc), "Needed: the tube (--radiation)")
	doc.Cautions = append(doc.Cautions, xrd.Caution{Code: "step-too-coarse"}, xrd.Caution{Code: "range-too-short"})
	assert.Contains(t, report.Sentence(doc), "Needed: a scan in finer steps; a scan over a wider range; the tube (--radiation)")
	doc.Explanation.Radiation = "Co"
	assert.Contains(t, report.Sentence(doc), "Needed: the tube (--radiation Co explains far more).", "the tube is known to be the reason")
}
