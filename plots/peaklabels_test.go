package plots

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// bare is a result of which only the peaks are known.
func bare() result.Analysis {
	r := resulttest.Mixture(2)
	r.Document.Phases, r.Document.Fit, r.Document.UnexplainedPeaks = nil, nil, nil
	r.Curves.Phases = nil
	return r
}

func TestPeaksOnlyFigureNamesTheStrongest(t *testing.T) {
	r := bare()
	strongest := 0
	for i, p := range r.Document.Peaks {
		if p.Area > r.Document.Peaks[strongest].Area {
			strongest = i
		}
	}
	p := &r.Document.Peaks[strongest]
	f, err := Pattern(r, Style{}, PatternOptions{})
	require.NoError(t, err)
	texts := f.Texts()
	assert.Contains(t, texts, peakLabel(*p))
	assert.Contains(t, texts, English.FittedPeaks)
	assert.NotContains(t, texts, English.NothingFound)
	faint := slices.IndexFunc(r.Document.Peaks, func(q result.Peak) bool { return slices.Contains(texts, peakLabel(q)) && q.Area < 0.3*p.Area })
	require.GreaterOrEqual(t, faint, 0)
	r.Document.Peaks[faint].Kind = "Kβ of 43.32"
	f, err = Pattern(r, Style{}, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), fmt.Sprintf("%.2f° Kβ", r.Document.Peaks[faint].TwoTheta), "an image says so")
}

// TestPeakLabelsKeepApart: no two of the vertical labels meet.
func TestPeakLabelsKeepApart(t *testing.T) {
	f, err := Pattern(bare(), Style{}, PatternOptions{})
	require.NoError(t, err)
	var boxes []box
	for _, it := range items(f) {
		if it.label != nil && it.label.vertical && it.label.text[0] < 'A' {
			boxes = append(boxes, it.label.box())
		}
	}
	require.Greater(t, len(boxes), 5)
	for i, b := range boxes {
		for _, c := range boxes[:i] {
			assert.False(t, b.meets(c), "%v meets %v", b, c)
		}
	}
}
