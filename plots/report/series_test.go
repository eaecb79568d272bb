package report_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func seriesPage(t testing.TB, s result.Series) string {
	t.Helper()
	trend, err := plots.Trend(s, plots.Style{})
	require.NoError(t, err)
	html, err := report.SeriesHTML(s, report.SeriesOptions{Figures: []*plots.Figure{trend}, Files: []string{"series.csv"}})
	require.NoError(t, err)
	return string(html)
}

func TestSeriesSentenceTellsTheTrend(t *testing.T) {
	assert.Equal(t, "Over 5 scans, hours 0 to 250: corundum 45 → 60, fluorite 30 → < 0.5 and zincite 25 → 40 wt% of the crystalline part.",
		report.SeriesSentence(resulttest.Series(6)))
	assert.Equal(t, "No scan of the series has an answer.", report.SeriesSentence(resulttest.Series(0)))
}

func TestSeriesPageEscapesAndLinks(t *testing.T) {
	s := resulttest.Series(6)
	s.Scans[2].Folder = `scans/a"b c#d`
	s.Scans[3].HasReport = false
	s.Conditions[1] = "<img src=x onerror=alert(1)>"
	page := seriesPage(t, s)
	assert.NotContains(t, page, "<script")
	assert.NotContains(t, page, "<img")
	assert.Contains(t, page, "&lt;script&gt;")
	assert.Contains(t, page, `href="./scans/scan-001/report.html"`)
	assert.Contains(t, page, `href="./scans/a%22b%20c%23d/report.html"`)
	assert.Contains(t, page, `href="./scans/scan-004/analysis.json"`, "without figures a scan links to its numbers")
	assert.Contains(t, page, "expected angle and intensity")
	assert.Contains(t, page, "&lt; 0.5")
	assert.NotContains(t, page, "\u202e", "direction marks would reorder the text after them")
}

func TestSeriesPageIsSmall(t *testing.T) {
	page := seriesPage(t, resulttest.Series(2000))
	assert.Less(t, len(page), 4<<20)
}

func TestSeriesText(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, resulttest.Series(6)))
	lines := strings.Split(b.String(), "\n")
	assert.Contains(t, b.String(), "scan-002.xy   10      scan-002.xy:7: expected angle and intensity")
	assert.Contains(t, b.String(), "[scan-failed]")
	assert.Equal(t, strings.Index(lines[3], "hours"), strings.Index(lines[4], "0 "), "columns stand under their names")
	assert.NotContains(t, b.String(), "\x1b")
}

// A real browser opens the page without an error or a request, its table fits or scrolls at every width, and paper gets
// all of it.
func TestSeriesPageInABrowser(t *testing.T) {
	b := openBrowser(t)
	name := filepath.Join(t.TempDir(), "series.html")
	require.NoError(t, os.WriteFile(name, []byte(seriesPage(t, resulttest.Series(7))), 0o600))
	for _, width := range []int64{1280, 768, 390} {
		b.run(t, chromedp.EmulateViewport(width, 900), chromedp.Navigate("file://"+name))
		assert.Equal(t, "true", b.eval(t, "document.documentElement.scrollWidth <= window.innerWidth"), "nothing but tables and figures scrolls sideways at %d px", width)
	}
	assert.Equal(t, "7", b.eval(t, `document.querySelectorAll("#table tbody tr").length`))
	assert.Equal(t, "true", b.eval(t, `[...document.querySelectorAll("svg")].every(s => s.getAttribute("aria-label"))`))
	assert.Empty(t, b.Errors)
	for _, r := range b.Requests {
		assert.True(t, strings.HasPrefix(r, "file://") || strings.HasPrefix(r, "data:") || strings.HasPrefix(r, "about:"), r)
	}
}

// A scan without its condition is in the tables and not in the sentence; nothing panics.
func TestSeriesWithoutAPlace(t *testing.T) {
	s := resulttest.Series(6)
	s.Scans[0].Abscissa, s.Scans[1].Abscissa = nil, nil
	assert.Contains(t, report.SeriesSentence(s), "Over 4 scans, hours 40 to 250")
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, s))
	assert.Regexp(t, `scan-001\S* +\?`, b.String())
	seriesPage(t, s)
	for i := range s.Scans {
		s.Scans[i].Abscissa = nil
	}
	assert.Contains(t, report.SeriesSentence(s), "Over 5 scans")
	require.NoError(t, report.SeriesText(&b, s))
}

// What a scan that is not explained says of a phase is a question mark, in tables and in the trend, and never "not seen".
func TestSeriesDoesNotCallUnjudgedUnseen(t *testing.T) {
	s := resulttest.Series(3)
	for k := range s.Scans[0].Phases {
		s.Scans[0].Phases[k] = result.SeriesShare{ID: s.Phases[k].ID, Evidence: result.NotJudged}
	}
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, s))
	row := strings.Fields(strings.Split(b.String(), "\n")[4])
	assert.Equal(t, []string{"?", "?", "?"}, row[len(row)-3:], b.String())
	assert.NotContains(t, b.String(), "not seen")
	assert.NotContains(t, seriesPage(t, s), ">not seen<")
	s.Scans[0].Phases[1].Evidence = result.Unseen
	b.Reset()
	require.NoError(t, report.SeriesText(&b, s))
	assert.Contains(t, b.String(), "not seen", "an explained scan without a limit")
}
