package plots

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

func TestSlotsFollowTheOrderOfTheRun(t *testing.T) {
	doc := result.Document{Phases: []result.Phase{{ID: "b"}, {ID: "x"}, {ID: "a"}, {ID: "y"}}}
	assert.Equal(t, []int{0, 1, 2, 3}, Slots(doc), "no order: their own")
	doc.PhaseOrder = []string{"A", "gone", "B"}
	assert.Equal(t, []int{2, 3, 0, 4}, Slots(doc), "without regard to case; strangers follow")
	assert.Empty(t, Slots(result.Document{PhaseOrder: []string{"a"}}))
}

// fills are the colours of all filled shapes.
func fills(f *Figure) map[string]bool {
	out := map[string]bool{}
	for _, it := range items(f) {
		if it.shape != nil && it.shape.fill.A > 0 {
			out[strings.ToUpper(rgb(it.shape.fill))] = true
		}
	}
	return out
}

// A phase keeps its colour in the figures of a scan that lacks the phases before it, and a limit has the colour of its
// phase.
func TestAScanOfASeriesHasTheColoursOfTheSeries(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Document.PhaseOrder = []string{"quartz", "a", "b", "corundum", "fluorite", "c", "zincite"}
	for name, f := range allFigures(t, r, Style{}) {
		got := fills(f)
		switch {
		case strings.HasSuffix(name, "corundum"):
			assert.True(t, got[PhaseColour(3)], name)
		case strings.HasSuffix(name, "fluorite"):
			assert.True(t, got[PhaseColour(4)], name)
		default:
			assert.True(t, got[PhaseColour(3)] && got[PhaseColour(4)] && got[PhaseColour(6)], name)
		}
		for _, other := range []int{0, 1, 2, 5} {
			assert.False(t, got[PhaseColour(other)], "%s: %d", name, other)
		}
	}
	f, err := Fractions(r.Document, Style{})
	require.NoError(t, err)
	limit := false
	for _, it := range items(f) {
		limit = limit || it.shape != nil && it.shape.stroke == (Style{}).paint(0).edge
	}
	assert.True(t, limit, "quartz was asked for and is the first of the run")
}

// Every hatch is another, too: the fill patterns follow the same number as the colours.
func TestPaintsDiffer(t *testing.T) {
	seen := map[string]bool{}
	for i := range Colours + 1 {
		p := Style{}.paint(i)
		key := fmt.Sprint(p.hatch)
		assert.False(t, seen[key], "hatch %d", i)
		seen[key] = true
		assert.Equal(t, i == Colours, fmt.Sprint(Style{}.paint(-1)) == fmt.Sprint(p), "only what lies beyond the colours is grey")
	}
}

// Forty phases are seven colours and one group, in every figure of a series, and nothing is lost from the sum.
func TestManyPhasesOfASeriesAreGrouped(t *testing.T) {
	r := resulttest.Many(40)
	list := []Trace{{"one", r}, {"two", resulttest.Many(40)}}
	p, err := newStackPlot(list, Style{}, StackOptions{})
	require.NoError(t, err)
	require.Len(t, p.groups, Colours+1)
	assert.Equal(t, "other phases (33)", p.groups[Colours].name)
	shares := p.shares(p.traces[0])
	for i := 0; i < len(r.Curves.TwoTheta); i += 97 {
		whole, parts := 0.0, 0.0
		for _, c := range r.Curves.Phases {
			whole += c[i]
		}
		for _, c := range shares {
			parts += c[i]
		}
		require.InDelta(t, whole, parts, 1e-9*whole+1e-9)
	}
	s := crowd(40)
	f, err := Trend(s, Style{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "other phases (33)")
	assert.Contains(t, f.Texts(), "phase 7")
	assert.NotContains(t, f.Texts(), "phase 8")
	q, err := NewTrends(s, Style{})
	require.NoError(t, err)
	require.Len(t, q.trends, Colours+1)
	assert.InDelta(t, 33*2.5, q.trends[Colours].points[0].value, 1e-9)
	q, err = NewTrends(crowd(8), Style{})
	require.NoError(t, err)
	assert.Equal(t, "phase 8", q.trends[Colours].name, "one phase without a colour keeps its name")
}

// crowd is a series of three scans with n phases.
func crowd(n int) result.Series {
	s := result.Series{}
	for k := range n {
		s.Phases = append(s.Phases, result.SeriesPhase{ID: fmt.Sprint("p", k+1), Name: fmt.Sprint("phase ", k+1)})
	}
	for i := range 3 {
		e := result.SeriesEntry{File: fmt.Sprint(i)}
		for range n {
			e.Phases = append(e.Phases, result.SeriesShare{Detected: true, WeightPercent: ptr(2.5), WeightPercentLo: ptr(2), WeightPercentHi: ptr(3)})
		}
		s.Scans = append(s.Scans, e)
	}
	return s
}
