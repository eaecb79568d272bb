package report_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// TestSeriesTellsTheTurn: what rises and falls again is told with where it turns; what merely wobbles, and what goes one way, is not.
func TestSeriesTellsTheTurn(t *testing.T) {
	told := func(values ...float64) string {
		s := resulttest.Series(len(values))
		for i := range s.Scans {
			s.Scans[i].Error = ""
			s.Scans[i].Phases = []result.SeriesShare{{Detected: true, WeightPercent: at(values[i]), WeightPercentLo: at(values[i] - 2), WeightPercentHi: at(values[i] + 2)}}
			s.Scans[i].Abscissa = at(float64(10 * i))
		}
		s.Phases = s.Phases[:1]
		return report.SeriesSentence(s)
	}
	assert.Contains(t, told(5, 20, 31, 12), "5 → 31 (hours = 20) → 12 wt%")
	assert.Contains(t, told(40, 10, 38), "40 → 10 (hours = 10) → 38")
	assert.Contains(t, told(5, 30, 29), "5 → 29", "within a fifth of the way")
	assert.Contains(t, told(5, 12, 20, 31), "5 → 31")
	assert.NotContains(t, told(5, 12, 20, 31), "(hours = ")
	assert.Contains(t, told(30, 50, 10, 32), "30 → 50 (hours = 10) → 10 (hours = 20) → 32")
}

// TestSeriesTableKeepsIntervals: an interval that is longer on one side is printed with both ends.
func TestSeriesTableKeepsIntervals(t *testing.T) {
	s := resulttest.Series(3)
	s.Scans[0].Phases[0] = result.SeriesShare{Detected: true, WeightPercent: at(60), WeightPercentLo: at(40), WeightPercentHi: at(62)}
	s.Scans[2].Phases[1] = result.SeriesShare{Detected: true, Origin: "preparation"}
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, s))
	assert.Contains(t, b.String(), "60 (40–62)")
	assert.NotContains(t, b.String(), "60 ±11")
	assert.Contains(t, b.String(), "preparation", "a phase outside the 100 % has no amount, and says why")
}

// TestSeriesOfOneScanTwice: a scan that is given again tells nothing new.
func TestSeriesOfOneScanTwice(t *testing.T) {
	s := resulttest.Series(1)
	s.Scans[0].SHA256 = "a"
	s.Scans = append(s.Scans, s.Scans[0])
	for _, abscissa := range []string{"", s.Abscissa} {
		s.Abscissa = abscissa
		assert.Regexp(t, "^In 1 scan: ", report.SeriesSentence(s))
		assert.NotContains(t, report.SeriesSentence(s), "standard deviation")
	}
}
