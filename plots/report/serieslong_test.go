package report_test

import (
	"bytes"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

const manyScans = 20000

// longSeries is a series of so many scans of which three stand out.
func longSeries() result.Series {
	s := resulttest.Series(manyScans)
	s.Scans[7777].Stop = true
	return s
}

var scanRow = regexp.MustCompile(`<tr><td class="n beside">(\d+)</td>`)

// The page of 20 000 scans stays small and says what it shows; what stands out is on it, every scan is on exactly one of the
// pages that it links, and each row links the scan's own folder.
func TestPageOfALongSeries(t *testing.T) {
	s := longSeries()
	page := seriesPage(t, s)
	assert.Less(t, len(page), 1<<20)
	assert.Contains(t, page, "102 of 20000 scans are shown: a sample spread over the series and all 3 that stand out")
	for _, number := range []int{1, 2, 7778, manyScans} {
		assert.Contains(t, page, fmt.Sprintf(`<td class="n beside">%d</td>`, number))
	}
	assert.Contains(t, page, "Series of 20000 scans")
	seen := map[string]int{}
	for _, p := range report.ScanPages(s) {
		assert.Contains(t, page, `href="./`+p.Name+`"`)
		var b bytes.Buffer
		require.NoError(t, report.WriteScanPage(&b, s, p))
		assert.Less(t, b.Len(), 2<<20)
		for _, m := range scanRow.FindAllStringSubmatch(b.String(), -1) {
			seen[m[1]]++
		}
		assert.NotContains(t, b.String(), "<script")
	}
	require.Len(t, seen, manyScans)
	for number, times := range seen {
		require.Equal(t, 1, times, number)
	}
	assert.Empty(t, report.ScanPages(resulttest.Series(300)), "a short series has one page")
	assert.NotContains(t, seriesPage(t, resulttest.Series(300)), "are shown")
}

func TestTextOfALongSeries(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, longSeries()))
	assert.Less(t, strings.Count(b.String(), "\n"), 70)
	for _, want := range []string{"scan-001.xy", "scan-7778.xy", "scan-20000.xy", "42 of 20000 scans are shown", "Every scan is in series.csv"} {
		assert.Contains(t, b.String(), want)
	}
}

// The trend of a long series is drawn by medians and says so; what they are is tested against numbers made for it.
func TestTrendOfALongSeries(t *testing.T) {
	s := longSeries()
	fig, err := plots.Trend(s, plots.Style{})
	require.NoError(t, err)
	svg := string(fig.InlineSVG())
	assert.Less(t, len(svg), 300<<10)
	assert.Contains(t, svg, "medians of up to")
	short, err := plots.Trend(resulttest.Series(1500), plots.Style{})
	require.NoError(t, err)
	assert.NotContains(t, string(short.InlineSVG()), "medians of")
}
