package plots

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// A phase has the colour of its id: the order of the phases, a run that states it and phases without a colour change nothing.
func TestColoursBelongToIds(t *testing.T) {
	doc := result.Document{Phases: []result.Phase{{ID: "corundum"}, {ID: "Quartz"}, {ID: "zincite"}, {ID: "copper"}}}
	got := Slots(doc)
	byID := map[string]int{}
	for i, p := range doc.Phases {
		byID[strings.ToLower(p.ID)] = got[i]
	}
	slices.Reverse(doc.Phases)
	for i, slot := range Slots(doc) {
		assert.Equal(t, byID[strings.ToLower(doc.Phases[i].ID)], slot, doc.Phases[i].ID)
	}
	doc.PhaseOrder = []string{"zincite", "corundum", "copper", "quartz"}
	for i, slot := range Slots(doc) {
		assert.Equal(t, byID[strings.ToLower(doc.Phases[i].ID)], slot, "as in a run: %s", doc.Phases[i].ID)
	}
	assert.Empty(t, Slots(result.Document{PhaseOrder: []string{"a"}}))

	var many []string
	for i := range 40 {
		many = append(many, fmt.Sprint("phase ", i))
	}
	slots := Colouring(many)
	first := slices.Sorted(slices.Values(slots[:Colours]))
	assert.Equal(t, []int{0, 1, 2, 3, 4, 5, 6}, first, "seven colours for seven phases")
	for _, s := range slots[Colours:] {
		assert.GreaterOrEqual(t, s, Colours)
	}
}

// The scans of the demo look alike alone and in their series.
func TestDemoPhasesKeepTheirColours(t *testing.T) {
	series := []string{"bronze-alpha", "tin-beta", "cu6sn5-eta", "cu3sn-epsilon", "cuprite"}
	all := Colouring(series)
	for drop := range series {
		fewer := slices.Delete(slices.Clone(series), drop, drop+1)
		for i, slot := range Colouring(fewer) {
			assert.Equal(t, all[slices.Index(series, fewer[i])], slot, "%s without %s", fewer[i], series[drop])
		}
	}
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
	run := Colouring(r.Document.PhaseOrder)
	for name, f := range allFigures(t, r, Style{}) {
		got := fills(f)
		switch {
		case strings.HasSuffix(name, "corundum"):
			assert.True(t, got[PhaseColour(run[3])], name)
		case strings.HasSuffix(name, "fluorite"):
			assert.True(t, got[PhaseColour(run[4])], name)
		default:
			assert.True(t, got[PhaseColour(run[3])] && got[PhaseColour(run[4])] && got[PhaseColour(run[6])], name)
		}
		for _, other := range []int{0, 1, 2, 5} {
			assert.False(t, got[PhaseColour(run[other])], "%s: %d", name, other)
		}
	}
	f, err := Fractions(r.Document, Style{})
	require.NoError(t, err)
	limit := false
	for _, it := range items(f) {
		limit = limit || it.shape != nil && it.shape.stroke == (Style{}).paint(run[0]).edge
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
