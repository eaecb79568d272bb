package series

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

func entries(chi ...float64) []result.SeriesEntry {
	out := make([]result.SeriesEntry, len(chi))
	for i, v := range chi {
		out[i] = result.SeriesEntry{File: string(rune('a' + i)), Radiation: "Cu", ReducedChiSquare: &v}
	}
	return out
}

// Limits derived by hand: with a sixth scan far above, ln χ² of 1, 1.1, 0.9, 1.05, 1 has median 0.0244 and MAD 0.0477, so
// that 3.5 robust deviations reach 1.31; 1.5 times the median of 1.0247 is 1.537, the stricter limit.
func TestOutliers(t *testing.T) {
	for _, c := range []struct {
		why  string
		chi  []float64
		want string
	}{
		{"beyond the factor", []float64{1, 1.1, 0.9, 1.05, 1, 1.54}, "f"},
		{"beyond deviations, within the factor", []float64{1, 1.1, 0.9, 1.05, 1, 1.53}, ""},
		{"a wide series: χ² 1 to 3 at random hides 4", []float64{1, 3, 1.5, 2.2, 2.9, 1.2, 4}, ""},
		{"three scans are too few", []float64{1, 1, 9}, ""},
		{"equal scans but one", []float64{1, 1, 1, 1, 1.6}, "e"},
	} {
		s := result.Series{Scans: entries(c.chi...)}
		outliers(&s)
		got := ""
		for _, e := range s.Scans {
			if slices.Contains(e.Cautions, "series-outlier") {
				got += e.File
			}
		}
		assert.Equal(t, c.want, got, c.why)
		assert.Equal(t, c.want != "", len(s.Cautions) == 1, c.why)
	}
}

// A phase counts when one search is sure of it or two name it; order is that of appearance, required ones first.
func TestUnion(t *testing.T) {
	sum := []result.Phase{{ID: "b", Evidence: "established"}, {ID: "t1", Evidence: "tentative"}, {ID: "t2", Evidence: "tentative"}}
	one := []result.Phase{{ID: "p", Evidence: "probable"}, {ID: "t2", Evidence: "tentative"}, {ID: "B", Evidence: "established"}}
	assert.Equal(t, []string{"r", "b", "t2", "p"}, union([]string{"r"}, [][]result.Phase{sum, one}))
	assert.Empty(t, union(nil, [][]result.Phase{{{ID: "t", Evidence: "tentative"}}, nil}))
}

func TestPickSpread(t *testing.T) {
	assert.Equal(t, []int{3, 4}, pickSpread([]int{3, 4}, 5))
	assert.Equal(t, []int{0, 2, 5, 7, 10}, pickSpread([]int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 5))
}

// The sum adds only what has the same angles and radiation, and counts stay counts.
func TestSumOf(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var jobs []analysis.Job
	for i := range 4 {
		x, y := make([]float64, 30), make([]float64, 30)
		for k := range x {
			x[k], y[k] = 20+0.1*float64(k), float64(rng.IntN(50)+1)
		}
		if i == 2 {
			x[29] += 0.01
		}
		scan, err := xrd.NewScan(x, y, nil, xrd.ScanInfo{})
		assert.NoError(t, err)
		jobs = append(jobs, analysis.Job{Measurement: analysis.Measurement{Scan: scan}, Setting: analysis.Setting{Radiation: xrd.Radiation{Name: "Cu", KAlpha1: 1.54}}})
	}
	jobs[1].Radiation.Name = "Co"
	sum, alike, err := sumOf(t.Context(), Job{Files: []string{"a", "b", "c", "d"}, Load: func(i int) (analysis.Job, error) { return jobs[i], nil }})
	assert.NoError(t, err)
	assert.Equal(t, []int{0, 3}, alike)
	for k, v := range sum.Scan.Intensity {
		assert.Equal(t, jobs[0].Scan.Intensity[k]+jobs[3].Scan.Intensity[k], v)
	}
	assert.True(t, sum.Scan.Counts())
}
