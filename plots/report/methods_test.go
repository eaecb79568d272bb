package report_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// The methods paragraph says what was done and no more: each statement is there when its record is, and not otherwise.
func TestMethodsSayWhatWasDone(t *testing.T) {
	for _, c := range []struct {
		what string
		set  func(*result.Document)
		text string
	}{
		{"a calculated scan", func(d *result.Document) { d.Scan.Simulated = "corundum 100" }, "SIMULATED, not measured: corundum 100. "},
		{"transmission", func(d *result.Document) { d.Scan.Geometry = "transmission" }, "was measured in symmetric transmission"},
		{"named phases", func(d *result.Document) { d.Procedure.Phases = result.NamedByUser }, "Phases were named beforehand and described by a whole-pattern fit"},
		{"phases chosen by hand", func(d *result.Document) {
			d.Procedure.Phases, d.Choices = result.NamedByUser, []string{"cuprite left out", "tenorite taken in"}
		}, "Phases were chosen by hand, as told below, and described"},
		{"the choices", func(d *result.Document) { d.Choices = []string{"cuprite left out", "tenorite taken in"} }, "Chosen by hand while looking at the fit: cuprite left out; tenorite taken in."},
		{"a series", func(d *result.Document) { d.Procedure.Phases = result.SearchedInSeries }, "Phases were identified in the scans of the series"},
		{"a document without a record", func(d *result.Document) { d.Procedure = nil }, "The pattern was described by a whole-pattern fit"},
		{"no fractions", func(d *result.Document) { d.Procedure.Fractions = result.NoFractions }, "No fractions are given."},
		{"several scans", func(d *result.Document) { d.Procedure.Scans = 3 }, ", from 3 scans of the specimen together"},
		{"factors", func(d *result.Document) {
			d.Factors = &result.Factors{Reference: "corundum", Mixtures: []string{"a", "b"}, Phases: []result.FactorOf{{ID: "corundum", Value: 1}, {ID: "zincite", Value: 0.9571, U: ptr(0.0123)}, {ID: "fluorite", Value: 1.02}}}
		}, ", multiplied by factors from 2 weighed mixtures (corundum 1 (reference), zincite 0.957 ± 0.012, fluorite 1.020)"},
		{"grains of a stated size", func(d *result.Document) { d.Procedure.Grains = true }, ", corrected for absorption in grains of the stated size"},
		{"an automatic slit", func(d *result.Document) { d.Procedure.Slit = "automatic" }, "corrected for an automatic divergence slit that the lines call for"},
		{"a short specimen", func(d *result.Document) { d.Procedure.Slit = "overspill" }, "corrected for a beam longer than the specimen"},
		{"regions of a section", func(d *result.Document) { d.Absorption = result.AbsorptionMosaic }, "with the stated mean linear intercepts (Markov mosaic, "},
		{"a part that was recognised", func(d *result.Document) { d.Explanation.Verdict = result.Partial }, "Weight fractions of what was recognised, 99 % of the peak area"},
		{"a standard", func(d *result.Document) {
			d.Absolute = &result.Absolute{Method: "internal standard", Standard: "silicon", StandardWeightPercent: ptr(10.126)}
		}, " By the internal standard method with silicon (10.13 wt% added), the original specimen holds an unknown amount of amorphous or unidentified material."},
		{"an outcome that is none", func(d *result.Document) { d.Fit.Status = "stopped" }, "The fit stopped with R_wp = 8.10 % (R_exp = 7.40 %, reduced χ² = 1.19)."},
	} {
		doc := resulttest.Mixture(1).Document
		require.NotContains(t, report.AnswerOf(doc).Methods, c.text, c.what)
		c.set(&doc)
		assert.Contains(t, report.AnswerOf(doc).Methods, c.text, c.what)
	}
	plain := report.AnswerOf(resulttest.Mixture(1).Document).Methods
	assert.Contains(t, plain, "was measured in Bragg–Brentano geometry on a [diffractometer, detector] with Cu radiation (Kα1 1.54059 Å; [kV, mA, filter or monochromator]), goniometer radius 200 mm, divergence slit fixed:1.00, from 5° to 150° 2θ in steps of 0.02°, 2 s per step.")
	assert.Contains(t, plain, "The specimen was powder, back-loaded, 20 mm along the beam; [preparation, heat treatment, spinning].")
	through := resulttest.Mixture(1).Document
	through.Scan.Geometry = "transmission"
	assert.NotContains(t, report.AnswerOf(through).Methods, "Bragg–Brentano", "one geometry, not two")
}

// What the document does not say of scan and specimen is not made up.
func TestMethodsOfLittle(t *testing.T) {
	var d result.Document
	text := report.AnswerOf(d).Methods
	assert.Contains(t, text, "X-ray diffraction of the specimen was measured")
	assert.Contains(t, text, "The specimen was of unstated form; ")
	for _, no := range []string{"goniometer", "slit", "per step", "NaN", "%!", "R_wp", "along the beam"} {
		assert.NotContains(t, text, no)
	}
}

const linesAsText = `corundum  Al2O3  R-3c
a 4.75900  b 4.75900  c 12.99200 Å  α 90.000  β 90.000  γ 120.000°  V 254.8227 Å³
density 3.9870 g/cm³  μ 124.0 /cm  I/Ic 1.000 (computed, by area, Cu)
! Its atoms are guessed. [structure-guessed]

h k l           d/Å            2θ    m   I
0 1 2           3.47970   25.5790    6   60.00
1 1 3 + 3 0 0   2.08500   43.3570   18   100.00
`

// The reference lines of a phase: what it is (the volume is a² c sin 60° by hand), a line for each grave doubt, and the lines from an intensity on, with all families.
func TestLinesAsText(t *testing.T) {
	p := refdata.Phase{Name: "corundum", Formula: "Al2O3", SpaceGroup: "R-3c", Cell: &refdata.Cell{A: 4.759, B: 4.759, C: 12.992, Alpha: 90, Beta: 90, Gamma: 120},
		Density: 3.987, MassAbsorption: 31.1, RIR: refdata.RIR{Value: 1, Origin: "computed", Basis: "area", Radiation: "Cu"},
		Cautions: []xrd.Caution{{Code: "structure-guessed", Severity: xrd.SeverityCaution, Text: "Its atoms are\nguessed."}, {Code: "small", Severity: xrd.SeverityNote, Text: "Nothing much."}},
		Lines: []refdata.Line{
			{D: 3.4797, TwoTheta: 25.579, Intensity: 60, Families: []refdata.Family{{H: 0, K: 1, L: 2, Multiplicity: 6}}},
			{D: 2.165, TwoTheta: 41.68, Intensity: 0.99, Families: []refdata.Family{{H: 0, K: 0, L: 6, Multiplicity: 2}}},
			{D: 2.085, TwoTheta: 43.357, Intensity: 100, Families: []refdata.Family{{H: 1, K: 1, L: 3, Multiplicity: 12}, {H: 3, K: 0, L: 0, Multiplicity: 6}}}}}
	var b bytes.Buffer
	require.NoError(t, report.Lines(&b, p, 1))
	assert.Equal(t, linesAsText, spaced(b.String()))
	b.Reset()
	require.NoError(t, report.Lines(&b, p, 0.5))
	assert.Contains(t, b.String(), "41.6800", "from a lower intensity on")
	b.Reset()
	require.NoError(t, report.Lines(&b, refdata.Phase{Name: "a\x1b[2J", Formula: "?"}, 1))
	assert.Equal(t, "a[2J  ?  \ndensity unknown  μ unknown  I/Ic unknown (unknown, by unknown, unknown)\n", strings.SplitAfterN(b.String(), "\n", 3)[0]+strings.SplitAfterN(b.String(), "\n", 3)[1])
	assert.ErrorIs(t, report.Lines(full{}, p, 1), errFull)
}

// spaced takes the blanks at the ends of lines away.
func spaced(s string) string {
	var out strings.Builder
	for l := range strings.Lines(s) {
		out.WriteString(strings.TrimRight(l, " \n") + "\n")
	}
	return out.String()
}

// The peaks of a scan, a row each, with the doubts below; an image says what it is of.
func TestPeaksAsText(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.Peaks = []result.Peak{{TwoTheta: 43.35671, TwoThetaU: 0.00214, D: 2.085261, Height: 1234.4, Area: 210.456, AreaU: 1.234, FWHM: 0.1204, Significance: 170.55, Kind: "Kα"},
		{TwoTheta: 38.9, D: 2.31, Kind: "Kβ of 43.36"}}
	var b bytes.Buffer
	require.NoError(t, report.Peaks(&b, doc))
	lines := strings.Split(b.String(), "\n")
	assert.Equal(t, "2 peaks, Cu Kα, 5.00° to 150.00° 2θ; areas in intensity × degrees", lines[0])
	assert.Equal(t, []string{"2θ", "u", "d/Å", "height", "area", "u", "FWHM", "significance", "kind"}, strings.Fields(lines[2]))
	assert.Equal(t, []string{"43.3567", "0.0021", "2.08526", "1234", "210.46", "1.23", "0.120", "170.6", "Kα"}, strings.Fields(lines[3]))
	assert.True(t, strings.HasSuffix(strings.TrimSpace(lines[4]), "Kβ of 43.36"))
	assert.Contains(t, b.String(), "One peak, at 20.86°, belongs to no phase that was accepted.")
	assert.ErrorIs(t, report.Peaks(full{}, doc), errFull)
}
