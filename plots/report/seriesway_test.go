package report_test

import (
	"bytes"
	"encoding/json"
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

// A series goes by where its scans stand, not by the order in which they were given: only the first and the last on the way matter for what is told.
func TestSeriesInAnyOrder(t *testing.T) {
	s := resulttest.Series(4)
	for i, v := range []float64{5, 12, 20, 31} {
		s.Scans[i].Error, s.Scans[i].Abscissa, s.Scans[i].RWP = "", at(float64(10*i)), at(0.0812)
		s.Scans[i].Phases = []result.SeriesShare{{Detected: true, WeightPercent: at(v), WeightPercentLo: at(v - 2), WeightPercentHi: at(v + 2)}}
	}
	s.Phases = s.Phases[:1]
	want := report.SeriesSentence(s)
	assert.Contains(t, want, "5 → 31")
	for _, order := range [][]int{{3, 2, 1, 0}, {1, 3, 0, 2}, {2, 0, 3, 1}} {
		other := s
		other.Scans = nil
		for _, i := range order {
			other.Scans = append(other.Scans, s.Scans[i])
		}
		assert.Equal(t, want, report.SeriesSentence(other), "%v", order)
	}
	page, err := report.SeriesHTML(s, report.SeriesOptions{})
	require.NoError(t, err)
	assert.Contains(t, string(page), "8.1 %", "the share that R_wp is")
}

// The curves of a page: what is left in standard uncertainties, to a tenth, nothing where none is known or the point is masked, and counts where they are.
func TestCurvesByHand(t *testing.T) {
	r := result.Analysis{Curves: result.Curves{TwoTheta: []float64{20, 21, 22, 23}, Observed: []float64{110, 90, 50, 40}, Calculated: []float64{100, 100, 50, 50},
		Background: []float64{10, 10, 10, 10}, Sigma: []float64{3, 8, 0, 5}, Masked: []bool{false, false, false, true}}}
	r.Document.Scan.Wavelength, r.Document.Scan.Radiation = 1.5406, "Cu"
	var got struct {
		Unit, Tube string
		X, Obs, Bg []float64
		Res        []*float64
		Wavelength float64
	}
	for model, unit := range map[string]string{"poisson": "counts", "empirical": "intensity", "": "intensity"} {
		r.Document.Scan.NoiseModel = model
		b, err := report.Curves(r, report.View{})
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(b, &got))
		assert.Equal(t, unit, got.Unit, model)
	}
	assert.Equal(t, []*float64{at(3.3), at(-1.3), nil, nil}, got.Res, "by hand: 10/3 and −10/8 = −1.25, which rounds away from 0")
	assert.Equal(t, r.Curves.TwoTheta, got.X)
	assert.Equal(t, r.Curves.Observed, got.Obs)
	assert.Equal(t, r.Curves.Background, got.Bg)
	assert.Equal(t, "Cu", got.Tube)
	assert.InDelta(t, 1.5406, got.Wavelength, 0)
}
