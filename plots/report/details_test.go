package report_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// Of a phase of many lines the ten that are expected to be strongest are shown, in the order of their angles: none that is left out is stronger than one
// that is shown, however many are equally strong.
func TestEvidenceShowsTheStrongestLines(t *testing.T) {
	for name, expected := range map[string]func(k int) float64{
		"all alike but the last": func(k int) float64 { return map[bool]float64{true: 100, false: 50}[k == 29] },
		"rising":                 func(k int) float64 { return float64(k + 1) },
		"falling":                func(k int) float64 { return float64(40 - k) },
		"in steps":               func(k int) float64 { return float64(10 * (k % 3)) },
	} {
		doc := result.Document{Phases: []result.Phase{{ID: "a", Name: "a", Origin: "specimen"}}}
		for k := range 30 {
			doc.Phases[0].Lines = append(doc.Phases[0].Lines, result.PhaseLine{D: 1, TwoTheta: 20 + float64(k), Expected: expected(k), Verdict: result.LineSeen})
		}
		var b strings.Builder
		require.NoError(t, report.Evidence(&b, doc))
		var shown []int
		for k := range 30 {
			if strings.Contains(b.String(), fmt.Sprintf(" %d.000 ", 20+k)) {
				shown = append(shown, k)
			}
		}
		require.Len(t, shown, 10, name)
		least := expected(shown[0])
		isShown := map[int]bool{}
		for _, k := range shown {
			least = min(least, expected(k))
			isShown[k] = true
		}
		for k := range 30 {
			assert.True(t, isShown[k] || expected(k) <= least, "%s: line %d of %g is left out, one of %g is shown", name, k, expected(k), least)
		}
	}
}

// What is not of the specimen says so in every table, has no share of the 100 %, and where nothing is known a dash instead of a question mark.
func TestNotOfTheSpecimen(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	p := &doc.Phases[2]
	p.Origin, p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi, p.VolumePercent, p.VolumePercentLo, p.VolumePercentHi = "preparation", nil, nil, nil, nil, nil, nil
	p.IfOwnWeightPercent, p.IfOwnLo, p.IfOwnHi = ptr(12.3), ptr(11.8), ptr(12.8)
	cells := report.Cells(doc)
	assert.Equal(t, "zincite", cells[3][0], "after those of the specimen")
	assert.Equal(t, "established, preparation: not in the 100 %", cells[3][6])
	assert.Equal(t, []string{"–", "–", "–", "–"}, cells[3][2:6])
	assert.Contains(t, report.Sentence(doc), "; besides, not counted, zincite (preparation; counted, it would be 12.3 ± 0.5 wt%)")
	assert.Contains(t, report.Table(doc), "preparation: not in the 100 %")
	html := page(t, result.Analysis{Document: doc, Curves: resulttest.Mixture(1).Curves})
	assert.Contains(t, html, "not counted, zincite")

	doc.Phases = []result.Phase{doc.Phases[1], doc.Phases[2]}
	one := &doc.Phases[0]
	one.WeightPercent, one.WeightPercentLo, one.WeightPercentHi, doc.HiddenLimit = ptr(100), ptr(98.6), ptr(100), ptr(1.4)
	s := report.Sentence(doc)
	assert.NotContains(t, s, "nothing else", "something else was found")
	assert.Contains(t, s, "of the crystalline part, if preparation left what is not counted")
}

// Three peaks of its own speak for a phase and are no doubt; two are one.
func TestPeaksThatSpeakForAPhase(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Phases[0].Evidence = result.Tentative
	reason := func(v *float64) string {
		doc.Phases[0].Reasons = []result.Reason{{Code: "own-peaks", Text: "its lines make some separate peaks", Value: v}}
		return report.Doubts(doc)
	}
	assert.Contains(t, reason(ptr(2)), "corundum is only tentative: its lines make some separate peaks.")
	assert.Empty(t, reason(ptr(3)))
	assert.Contains(t, reason(nil), "separate peaks", "not known to be enough")
}

// Facts of a phase: what is known is told with its unit, what is not is left out; a cell by the edges that differ and the angles that are not right.
func TestFactsOfAPhase(t *testing.T) {
	why := func(change func(*result.Phase)) string {
		doc := resulttest.Mixture(1).Document
		p := &doc.Phases[0]
		p.SizeNM, p.Strain, p.Cell, p.CellU, p.Texture, p.RIR, p.Density, p.DetectionLimit = nil, nil, nil, nil, nil, nil, nil, nil
		change(p)
		for _, c := range report.AnswerOf(doc).Claims {
			if c.ID == "corundum" {
				return strings.Join(c.Why, "\n")
			}
		}
		return ""
	}
	bare := why(func(*result.Phase) {})
	for _, no := range []string{"Cell", "Density", "Crystallite", "Microstrain", "Texture", "Detection limit", "ratio"} {
		assert.NotContains(t, bare, no)
	}
	for want, set := range map[string]func(*result.Phase){
		"Crystallite size: 12.3 nm": func(p *result.Phase) { p.SizeNM = ptr(12.34) },
		"Microstrain: 0.0013":       func(p *result.Phase) { p.Strain = ptr(0.00127) },
		"Cell: a = 5.0000 Å, b = 6.0000 Å, c = 7.0000 Å, β = 105.50°": func(p *result.Phase) {
			p.Cell = &refdata.Cell{A: 5, B: 6, C: 7, Alpha: 90, Beta: 105.5, Gamma: 90}
		},
		"Cell: a = 4.7590 ± 0.0002 Å, c = 12.9920 ± 0.0008 Å, γ = 120.00°": func(p *result.Phase) {
			p.Cell, p.CellU = &refdata.Cell{A: 4.759, B: 4.759, C: 12.992, Alpha: 90, Beta: 90, Gamma: 120}, &refdata.Cell{A: 0.0002, B: 0.0002, C: 0.0008}
		},
		"Density: 3.986 g/cm³ computed":                        func(p *result.Phase) { p.Density = ptr(3.9861) },
		"Reference intensity ratio: 1.03 (computed, area, Cu)": func(p *result.Phase) { p.RIR = ptr(1.027) },
		"Texture: pole 0 0 1, March–Dollase r = 0.700 ± 0.020": func(p *result.Phase) {
			p.Texture = []result.Texture{{Pole: [3]int{0, 0, 1}, R: 0.7, RU: 0.02}}
		},
		"Detection limit: 0.43 wt%": func(p *result.Phase) { p.DetectionLimit = ptr(0.421) },
	} {
		assert.Contains(t, why(set), want)
	}
}

// What the page says of the scan and its peaks: an assumed tube as such, depths where they are known, and of images what they are of.
func TestScanAndPeaksOfThePage(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Scan.RadiationAssumed = true
	r.Document.Phases[0].Depth95 = ptr(47.6)
	r.Document.Peaks = append(r.Document.Peaks, result.Peak{TwoTheta: 38.95, D: 2.31, Kind: "Kβ of 43.32"})
	html := page(t, r)
	assert.Contains(t, html, "(assumed)")
	assert.Contains(t, html, "48")
	assert.Contains(t, html, "Kβ of 43.32°")
	r.Document.Scan.RadiationAssumed = false
	assert.NotContains(t, page(t, r), "(assumed)")
}

// A scan in which nothing is found, and one whose phases do not account for it, are not explained; what would help is said.
func TestNotExplainedInWords(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Explanation = &result.Explanation{Verdict: result.None, ExplainedShare: result.Number(0.314)}
	s := report.Sentence(doc)
	assert.Contains(t, s, "is not explained: phases account for 31 % of its peak area. Needed: the tube (--radiation)")
	assert.Contains(t, s, " Candidates: fluorite (established), zincite (established) and corundum (established).")
	doc.Phases = nil
	s = report.Sentence(doc)
	assert.Contains(t, s, "no phase was found that accounts for its peaks. Needed:")
	assert.NotContains(t, s, "Candidates")
	doc.Explanation.Radiation = "Co"
	assert.Contains(t, report.Sentence(doc), "Needed: the tube (--radiation Co explains far more).")
	doc.Explanation.SingleWavelength = true
	assert.Contains(t, report.Sentence(doc), "one wavelength was stated, but the scan shows Kα1 and Kα2 apart. Needed: both wavelengths (--radiation Co).")
}

// Factors of weighed mixtures are told with the text where there are any.
func TestFactorsInTheText(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	for _, none := range []*result.Factors{nil, {File: "factors.toml"}} {
		doc.Factors = none
		assert.Empty(t, report.Factors(doc))
	}
	doc.Factors = &result.Factors{File: "fac\ntors.toml", Reference: "corundum", Mixtures: []string{"a", "b", "c"}, Phases: []result.FactorOf{{ID: "corundum", Value: 1}, {ID: "zincite", Value: 0.9412, U: ptr(0.011)}}}
	assert.Equal(t, "\nReference intensities are corrected by factors from 3 weighed mixtures (fac tors.toml): corundum 1 (reference), zincite 0.941 ± 0.011.\n", report.Factors(doc))
	var b bytes.Buffer
	require.NoError(t, report.Text(&b, doc))
	assert.Contains(t, b.String(), report.Factors(doc))
}

// On the page of a series a scan between two limits says both and no value, and what preparation left says so.
func TestSeriesPageSaysWhatIsBetweenLimits(t *testing.T) {
	s := heap()
	s.Scans[0].Absorption = result.AbsorptionLimits
	s.Scans[0].Phases[0].CoarseLimit, s.Scans[0].Phases[1].CoarseLimit = ptr(1), ptr(1)
	s.Scans[1].Phases[2] = result.SeriesShare{ID: "c", Origin: "preparation", Detected: true, WeightPercent: ptr(3), WeightPercentLo: ptr(2.5), WeightPercentHi: ptr(3.5)}
	html := seriesPage(t, s)
	assert.Contains(t, html, "87.5–89.5")
	assert.NotContains(t, html, "88.5 ")
	assert.Contains(t, html, "preparation")
}

// Of a long series in which very many scans stand out, some of them are shown, and it is said how many.
func TestLongSeriesOfTroubles(t *testing.T) {
	s := resulttest.Series(1000)
	for i := range s.Scans {
		if i%2 == 0 {
			s.Scans[i].Verdict = result.Partial
		}
	}
	html := seriesPage(t, s)
	assert.Contains(t, html, "200 of the 502 that stand out", "every other one, the one that cannot be read, and an outlier")
	for i := range s.Scans {
		s.Scans[i].Verdict = result.Complete
	}
	assert.Contains(t, seriesPage(t, s), "and all 2 that stand out", "one that cannot be read and an outlier")
}
