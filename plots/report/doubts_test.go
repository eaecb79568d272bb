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

// A phase that is less than established says why, in the words of the search; one that is established or named does not.
func TestDoubtsSayWhy(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.Empty(t, report.Doubts(doc))
	cell := result.Reason{Code: "cell", Text: "its cell differs by 0.31 % from the reference"}
	doc.Phases[1].Evidence = result.Tentative
	doc.Phases[1].Reasons = append(doc.Phases[1].Reasons, cell, result.Reason{Code: "few-lines", Text: "fewer than three lines of its own"})
	doc.Phases[2].Evidence, doc.Phases[2].Reasons = result.Named, []result.Reason{cell}
	want := "fluorite is only tentative: its cell differs by 0.31 % from the reference; fewer than three lines of its own.\n"
	assert.Equal(t, "\n"+want, report.Doubts(doc))
	var b strings.Builder
	require.NoError(t, report.Text(&b, doc))
	assert.Contains(t, b.String(), want)
	r := resulttest.Mixture(1)
	r.Document = doc
	assert.Contains(t, page(t, r), strings.TrimSpace(want))
}

// The coarse limit is told where it lies outside the interval.
func TestCoarseLimitsWhereTheyMatter(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.Empty(t, report.Coarse(doc))
	doc.Phases[0].CoarseLimitWeightPercent = ptr(31.3) // inside 30.9 to 31.9
	assert.Empty(t, report.Coarse(doc))
	doc.Phases[0].CoarseLimitWeightPercent, doc.Phases[1].CoarseLimitWeightPercent = ptr(25), ptr(40)
	assert.Equal(t, "\nIf the grains are much larger than the depth of absorption (coarse limit, wt%): fluorite 40.0 and corundum 25.0.\n", report.Coarse(doc))
}

// Only what was given is told, in words.
func TestSettingsAreWhatWasGiven(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Provenance.Given = map[string]string{"elements": "[Al,Ca,F]", "strict-elements": "true", "out": "folder", "new-flag": "7"}
	r.Document.Provenance.Settings = map[string]any{"wanted-limit": "2", "mask": "[]"}
	s := page(t, r)
	from := s[strings.Index(s, "<h3>Settings</h3>"):]
	list := from[:strings.Index(from, "</dl>")]
	assert.Equal(t, `<h3>Settings</h3><dl><dt>Elements present</dt><dd><bdi>Al, Ca, F</bdi></dd><dt>new flag</dt><dd><bdi>7</bdi></dd><dt>No other elements allowed</dt><dd><bdi>yes</bdi></dd>`, list)
	assert.NotContains(t, s, "wanted-limit")
}

// The headline names the specimen, else the file, never its folders; formulas have their numbers below the line.
func TestHeadlineIsShort(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.Scan.Sample, r.Document.Scan.File = "", "scans/night 3/mixture-a.xy"
	assert.True(t, strings.HasPrefix(report.Sentence(r.Document), "In mixture-a.xy we found"))
	r.Document.Scan.File = `C:\\scans\\b.xy`
	r.Document.Phases[0].Name = "Al2O3 (α)"
	s := page(t, r)
	assert.Contains(t, s, "In b.xy we found")
	assert.Contains(t, s, "<bdi>Al<sub>2</sub>O<sub>3</sub></bdi>", "the formula")
	assert.Contains(t, s, "Al<sub>2</sub>O<sub>3</sub> (α) 31.4 ± 0.5 wt%")
}

// Citations in the methods paragraph are numbers of the list beside it, and only of what was used.
func TestReferences(t *testing.T) {
	r := resulttest.Mixture(1)
	s := page(t, r)
	for _, ref := range r.Document.References {
		assert.Contains(t, s, ref.Text)
	}
	assert.Contains(t, s, "a pseudo-Voigt profile [2] over")
	assert.Contains(t, s, "[2]")
	assert.Equal(t, "thompson1987", r.Document.References[1].Key)
	assert.Contains(t, s, "March and Dollase")
	for i := range r.Document.Phases {
		r.Document.Phases[i].Texture = nil
		r.Document.Phases[i].Evidence = result.Established // named ones are judged, too
	}
	r.Document.Procedure = &result.Procedure{Phases: result.NamedByUser, Fractions: result.Normalised, Scans: 2}
	r.Document.References = result.References(r.Document)
	s = page(t, r)
	assert.NotContains(t, s, "preferred orientation after")
	assert.Contains(t, s, "Phases were named beforehand", "nothing was searched")
	assert.Contains(t, s, "from 2 scans of the specimen together")
}

func TestBibTeX(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	doc.References = append(doc.References, result.Reference{Key: "odd key}", For: "x", Text: `50 % & {more}`})
	got := string(report.BibTeX(doc))
	assert.Contains(t, got, "@article{thompson1987,\n  author = {P. Thompson and D. E. Cox and J. B. Hastings},\n  journal = {J. Appl. Cryst.},\n  volume = {20},\n  year = {1987},\n  pages = {79--83},\n  annote = {profiles},\n}\n")
	assert.Contains(t, got, "@misc{corundum,\n  note = {invented, after corundum},\n  annote = {reference data of corundum},\n}\n")
	assert.Contains(t, got, `@misc{odd-key-,`)
	assert.Contains(t, got, `50 \% \& \{more\}`)
	assert.Equal(t, strings.Count(got, "@"), len(doc.References))
}
