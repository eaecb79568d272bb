package report_test

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
	"phasetally/xrd/result"
)

// heap is a series without an order: two phases in four scans, one of them seen in three.
func heap() result.Series {
	s := result.Series{Schema: result.SeriesSchema, Phases: []result.SeriesPhase{
		{ID: "a", Name: "copper", Seen: 4, Answers: 4, Mean: ptr(90), Deviation: ptr(1.26), Least: ptr(88.5), Most: ptr(91.5)},
		{ID: "b", Name: "tin", Seen: 3, Answers: 4, Mean: ptr(10), Deviation: ptr(0.63), Least: ptr(9.4), Most: ptr(10.6)},
		{ID: "c", Name: "lead", Answers: 4}}}
	for i := range 4 {
		share := func(id string, wt float64) result.SeriesShare {
			return result.SeriesShare{ID: id, Origin: "specimen", Detected: true, WeightPercent: ptr(wt), WeightPercentLo: ptr(wt - 1), WeightPercentHi: ptr(wt + 1)}
		}
		e := result.SeriesEntry{File: "scan" + string(rune('a'+i)) + ".xy", SHA256: string(rune('a' + i)), Phases: []result.SeriesShare{share("a", 88.5+float64(i)), share("b", 9.4+0.4*float64(i)), {ID: "c"}}}
		if i == 3 {
			e.Phases[1] = result.SeriesShare{ID: "b", DetectionLimit: ptr(0.321)}
		}
		s.Scans = append(s.Scans, e)
	}
	return s
}

// Without an order, a series is a mean with its standard deviation and extremes, with the decimals that the deviation bears; a phase that is nowhere is
// left out, and one that is not everywhere says where.
func TestSeriesWithoutAnOrder(t *testing.T) {
	s := heap()
	assert.Equal(t, "In 4 scans: copper 90 ± 1 (standard deviation; 88 to 92); tin 10.0 ± 0.6 (standard deviation; 9.4 to 10.6), seen in 3 wt% of the crystalline part.", report.SeriesSentence(s))
	s.Phases[0].Deviation = nil
	assert.Contains(t, report.SeriesSentence(s), "copper 90.0; tin", "one value has no deviation")
	s.Scans[0].Verdict, s.Scans[1].Verdict = result.Partial, result.Partial
	assert.Contains(t, report.SeriesSentence(s), "wt% of the crystalline part, in 2 of them of what was recognised.")
	s.Scans[2].Verdict, s.Scans[3].Verdict = result.Partial, result.Partial
	assert.Contains(t, report.SeriesSentence(s), "wt% of what was recognised.")
	for k := range s.Phases {
		s.Phases[k].Seen, s.Phases[k].Mean = 0, nil
	}
	assert.Equal(t, "In 4 scans, no phase of the series is seen.", report.SeriesSentence(s))
	assert.Equal(t, "No scan of the series has an answer.", report.SeriesSentence(result.Series{}))
}

// Where scans give two limits only, the series says the least and the greatest of them, and no mean.
func TestSpansOfASeries(t *testing.T) {
	s := heap()
	for i := range s.Scans {
		s.Scans[i].Absorption = result.AbsorptionLimits
		for k := range s.Scans[i].Phases {
			p := &s.Scans[i].Phases[k]
			if p.Detected {
				p.CoarseLimit = ptr(1)
			}
		}
	}
	require.True(t, s.Scans[0].Spanned())
	sentence := report.SeriesSentence(s)
	assert.Contains(t, sentence, "copper between 88 and 92;", "87.5 to 92.5, of which half rounds to even")
	assert.Contains(t, sentence, "tin between 8.4 and 11.2, seen in 3 wt%")
	assert.NotContains(t, sentence, "±")
	s.Scans[0].Phases[0].WeightPercentLo, s.Scans[1].Phases[0].WeightPercentLo, s.Scans[2].Phases[0].WeightPercentLo, s.Scans[3].Phases[0].WeightPercentLo = nil, nil, nil, nil
	assert.Contains(t, report.SeriesSentence(s), "copper seen;")
}

// The text of a series has a row a scan; what is beyond the specimen is named and not counted, what is not seen has its limit.
func TestSeriesRowsSayWhatIsNotCounted(t *testing.T) {
	s := heap()
	s.Scans[1].Phases[2] = result.SeriesShare{ID: "c", Origin: "preparation", Detected: true}
	s.Scans[2].Phases[2] = result.SeriesShare{ID: "c", Origin: "specimen", Detected: true}
	var b bytes.Buffer
	require.NoError(t, report.SeriesText(&b, s))
	assert.Contains(t, b.String(), "preparation")
	assert.Contains(t, b.String(), "?", "there, of unknown amount")
	assert.Contains(t, b.String(), "< 0.33", "rounded up")
	assert.Contains(t, b.String(), "not seen")
}
