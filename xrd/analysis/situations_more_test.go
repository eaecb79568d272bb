package analysis_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/simulate"
)

// 16: what programs export in place of counts is recognised for what it is, and the phases are still found.
func TestSituationNotRawCounts(t *testing.T) {
	change := func(change func(x, y []float64) []float64, info xrd.ScanInfo) analysis.Job {
		j := played(t, []part{{"copper", 70}, {"cuprite", 30}}, func(s *simulate.Job) { s.Hi = 110 })
		j.Filter.Elements = elements(t, "Cu,O")
		scan, err := xrd.NewScan(j.Scan.TwoTheta, change(j.Scan.TwoTheta, slices.Clone(j.Scan.Intensity)), nil, info)
		require.NoError(t, err)
		j.Scan = scan
		return j
	}
	scaled := func(factor, shift float64) func(x, y []float64) []float64 {
		return func(_, y []float64) []float64 {
			for i := range y {
				y[i] = y[i]*factor + shift
			}
			return y
		}
	}
	smooth := func(_, y []float64) []float64 {
		out := slices.Clone(y)
		for i := 3; i < len(y)-3; i++ {
			out[i] = 0
			for k := i - 3; k <= i+3; k++ {
				out[i] += y[k] / 7
			}
		}
		return out
	}
	hundred := func(x, y []float64) []float64 { return scaled(100/slices.Max(y), 0)(x, y) }
	for _, c := range []struct {
		name, code, words string
		job               analysis.Job
	}{
		{"counts per second", "", "", change(scaled(0.5, 0), xrd.ScanInfo{CountingTime: 2})},
		{"smoothed", "not-counts", "smoothed", change(smooth, xrd.ScanInfo{})},
		{"0 to 100", "not-counts", "not raw counts", change(hundred, xrd.ScanInfo{})},
		{"background subtracted, with negative values", "not-counts", "", change(scaled(1, -25), xrd.ScanInfo{})},
	} {
		doc := run(t, c.job)
		assert.NotEmpty(t, phase(t, doc, "copper").ID, c.name)
		assert.NotEmpty(t, phase(t, doc, "cuprite").ID, c.name)
		if c.code != "" {
			assert.Contains(t, caution(t, doc, c.code).Text, c.words, c.name)
		}
		for _, p := range doc.Phases {
			require.NotNil(t, p.WeightPercent, c.name)
			assert.False(t, math.IsNaN(*p.WeightPercent), c.name)
		}
	}
}

// 19: tin in copper makes its cell larger, here by 0.8 %: the edge comes out within 1e-4, no second copper is found, and what is said
// is that the composition does not follow.
func TestSituationSolidSolution(t *testing.T) {
	j := played(t, []part{{"copper", 80}, {"cu3sn-epsilon", 20}}, func(s *simulate.Job) { s.Components[0].Stretch = 0.008 })
	j.Filter.Elements = elements(t, "Cu,Sn")
	doc := run(t, j)
	require.Len(t, doc.Phases, 2)
	p := phase(t, doc, "copper")
	assert.InEpsilon(t, 3.615*1.008, p.Cell.A, 1e-4)
	c := caution(t, doc, "solid-solution")
	assert.Equal(t, "copper", c.Evidence["phase"])
	assert.Contains(t, c.Text, "Its composition does not follow from this alone")
	assert.NotEqual(t, result.None, doc.Explanation.Verdict)
}
