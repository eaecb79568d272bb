package series

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
)

// Five values whose mean and standard deviation are exact:
// 2, 4, 4, 5, 5 have the mean 4 and the deviation √(6/4) of a sample.
func TestSummaryOfIndependentScans(t *testing.T) {
	s := result.Series{Phases: []result.SeriesPhase{{ID: "a"}, {ID: "b"}}}
	seen := func(v float64) result.SeriesShare { return result.SeriesShare{Detected: true, WeightPercent: &v} }
	for _, v := range []float64{2, 4, 4, 5, 5} {
		s.Scans = append(s.Scans, result.SeriesEntry{Phases: []result.SeriesShare{seen(v), {}}})
	}
	s.Scans = append(s.Scans, result.SeriesEntry{Error: "unreadable"}, result.SeriesEntry{Phases: []result.SeriesShare{{}, seen(7)}})
	summarise(&s)
	a, b := s.Phases[0], s.Phases[1]
	assert.Equal(t, 6, a.Answers)
	assert.Equal(t, 5, a.Seen)
	require.NotNil(t, a.Deviation)
	assert.InDelta(t, 4, *a.Mean, 1e-12)
	assert.InDelta(t, 1.224744871391589, *a.Deviation, 1e-12)
	assert.Equal(t, []float64{2, 5}, []float64{*a.Least, *a.Most})
	assert.Equal(t, 1, b.Seen)
	assert.Nil(t, b.Deviation, "one value has no spread")
	assert.InDelta(t, 7, *b.Mean, 0)
	none := result.Series{Phases: []result.SeriesPhase{{ID: "a"}}}
	summarise(&none)
	assert.Nil(t, none.Phases[0].Mean)
}

// A scan that is given twice counts once, so that it shows no spread of 0; cautions of single scans are passed on with how many carry them.
func TestSameScanAndCautionsOfScans(t *testing.T) {
	v := 30.0
	e := result.SeriesEntry{SHA256: "a", Cautions: []string{"texture", "partly-explained"}, Phases: []result.SeriesShare{{Detected: true, WeightPercent: &v}}}
	s := result.Series{Phases: []result.SeriesPhase{{ID: "a"}}, Scans: []result.SeriesEntry{e, e, {Error: "unreadable"}}}
	summarise(&s)
	assert.Equal(t, 1, s.Phases[0].Seen)
	assert.Nil(t, s.Phases[0].Deviation)
	ofScans(&s)
	require.Len(t, s.Cautions, 1)
	assert.Equal(t, "scan-cautions", s.Cautions[0].Code)
	assert.Contains(t, s.Cautions[0].Text, "Of 2 scans with an answer, some carry cautions of their own: texture in 2.")
	none := result.Series{Scans: []result.SeriesEntry{{Cautions: []string{}}}}
	ofScans(&none)
	assert.Empty(t, none.Cautions)
}

// A phase that is the specimen's in one scan and preparation's in another is told; one that is either everywhere is not.
func TestOriginsThatDiffer(t *testing.T) {
	of := func(origins ...string) result.Series {
		s := result.Series{Phases: []result.SeriesPhase{{ID: "corundum", Name: "corundum"}}}
		for _, o := range origins {
			s.Scans = append(s.Scans, result.SeriesEntry{Phases: []result.SeriesShare{{Detected: o != "", Origin: o}}})
		}
		counted(&s)
		return s
	}
	s := of("specimen", "preparation", "specimen", "")
	require.Len(t, s.Cautions, 1)
	assert.Contains(t, s.Cautions[0].Text, "corundum counts as the specimen's in 2 scans and as left by preparation in 1")
	assert.Empty(t, of("specimen", "specimen", "").Cautions)
	assert.Empty(t, of("preparation", "preparation").Cautions)
}
