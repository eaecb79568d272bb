package report_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/resultfile/resulttest"
)

// printed prints the page in the tab on A4 and returns the text of each sheet.
func (b *browser) printed(t *testing.T, name string) []string {
	t.Helper()
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("NOT TESTED: the printed page, because pdftotext is not installed (Debian: apt-get install poppler-utils)")
	}
	pdf := get(t, b, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground(), chromedp.PDFPreferCSSPageSize()))
	keep(t, name+".pdf", pdf)
	c := exec.Command(program, "-layout", "-", "-")
	c.Stdin = bytes.NewReader(pdf)
	out, err := c.Output()
	require.NoError(t, err)
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}

// requireReadable checks that sheets hold each text, whole, and that none is empty or cut off in the middle of a table.
func requireReadable(t *testing.T, sheets []string, wants ...string) {
	t.Helper()
	all := strings.Join(strings.Fields(strings.Join(sheets, " ")), " ")
	for _, want := range wants {
		assert.Contains(t, all, want)
	}
	for i, s := range sheets {
		words := strings.Fields(s)
		require.NotEmpty(t, words, "sheet %d is empty", i+1)
		if i+1 < len(sheets) {
			assert.Greater(t, len(words), 25, "sheet %d is nearly empty", i+1)
		}
		for _, heading := range []string{"Cautions", "Pattern", "Scans", "Figures", "Peaks", "Provenance", "Methods, ready to adapt"} {
			assert.NotEqual(t, heading, strings.TrimSpace(s[strings.LastIndex(strings.TrimRight(s, "\n "), "\n")+1:]), "sheet %d ends with a heading", i+1)
		}
	}
}

// The report on paper: the answer on the first sheet, closed sections open, every table with its head, no control left.
func TestReportOnPaper(t *testing.T) {
	b := openBrowser(t)
	b.show(t, resulttest.Mixture(1))
	sheets := b.printed(t, "report")
	assert.Contains(t, strings.Join(strings.Fields(sheets[0]), " "), "In mixture A (invented) we found fluorite 34.4 ± 0.5 wt%")
	requireReadable(t, sheets, "corundum 31.4 ± 0.5 wt%", "33.9–34.8", "not seen; < 0.32 wt%", "2θ (°), Cu Kα", "residual (σ)", "√ scale",
		"What to do: Spike the powder", "Lines of corundum", "○ missing", "pole 0 0 1", "Found peaks", "Where the uncertainty comes from", "J. Appl. Cryst. 20 (1987)", "Provenance",
		resulttest.Mixture(1).Document.Scan.SHA256[:16], "accredited laboratory")
	all := strings.Join(sheets, "")
	for _, control := range []string{"Zoom in", "Whole scan", "Show peaks that contain", "Skip to the answer", "Drag across"} {
		assert.NotContains(t, all, control, "paper has no buttons")
	}
	for i, sheet := range sheets { // a table that goes on repeats its head
		if strings.Count(sheet, "0.120") > 5 { // the width of every peak
			assert.Contains(t, sheet, "FWHM", "sheet %d", i+1)
		}
	}
	assert.LessOrEqual(t, len(sheets), 6)
	assert.Contains(t, sheets[0], "accredited laboratory", "the limits stand beside the numbers")
	assert.Empty(t, b.Errors)
}

// The page of a series on paper: figures whole, every row of the table, each scan's trouble.
func TestSeriesOnPaper(t *testing.T) {
	b := openBrowser(t)
	s := resulttest.Series(40)
	s.Scans[7].Sample = "<script>alert(1)</script>" + "\u202egnirts\u202c"
	trend, err := plots.Trend(s, plots.Style{})
	require.NoError(t, err)
	var traces []plots.Trace
	for k := range 3 {
		traces = append(traces, plots.Trace{Name: fmt.Sprint("hours = ", k), Result: resulttest.Mixture(uint64(k + 1))})
	}
	stack, err := plots.Stack(traces, plots.Style{}, plots.StackOptions{})
	require.NoError(t, err)
	html, err := report.SeriesHTML(s, report.SeriesOptions{Figures: []*plots.Figure{trend, stack}, Files: []string{"series.csv"}})
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "series.html")
	require.NoError(t, os.WriteFile(name, html, 0o600))
	b.run(t, chromedp.Navigate("file://"+name))
	sheets := b.printed(t, "series")
	assert.Contains(t, sheets[0], "hours 0 to")
	requireReadable(t, sheets, "Phases over the series", "Scans of the series, one scale", "expected angle and intensity", "< 0.5", "series.csv", "</script>", "accredited laboratory")
	all := strings.Join(sheets, "")
	for i := range s.Scans {
		assert.Contains(t, all, fmt.Sprintf("scan-%03d", i+1))
	}
	for i, sheet := range sheets { // a table that goes on repeats its head
		if strings.Count(sheet, "scan-0") > 5 {
			assert.Contains(t, sheet, "corundum", "sheet %d", i+1)
		}
	}
	assert.Empty(t, b.Errors)
	for _, r := range b.Requests {
		assert.True(t, strings.HasPrefix(r, "file://") || strings.HasPrefix(r, "data:") || strings.HasPrefix(r, "about:"), r)
	}
	for _, width := range []int64{1280, 768, 390} {
		b.run(t, chromedp.EmulateViewport(width, 900))
		keep(t, fmt.Sprintf("series-%d.png", width), get(t, b, chromedp.FullScreenshot(100)))
	}
}
