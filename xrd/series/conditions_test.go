package series_test

import (
	"context"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/library"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/series"
)

func TestParseCondition(t *testing.T) {
	for text, want := range map[string]float64{"150": 150, " -3.5 ": -3.5, "−3,5": -3.5, "1e3": 1000, "0": 0} {
		got, ok := result.ParseCondition(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "as cast", "NaN", "Inf", "1,2,3", "1.000,5", "150 °C", "--3"} {
		_, ok := result.ParseCondition(text)
		assert.False(t, ok, text)
	}
}

func FuzzParseCondition(f *testing.F) {
	f.Add("1,5")
	f.Add("−2e3")
	f.Fuzz(func(t *testing.T, s string) {
		if v, ok := result.ParseCondition(s); ok {
			again, ok := result.ParseCondition(strconv.FormatFloat(v, 'g', -1, 64))
			assert.True(t, ok)
			assert.Equal(t, v, again)
		}
	})
}

// empty runs a series whose scans all fail, which is enough to attach conditions.
func empty(t *testing.T, c result.Conditions, files ...string) result.Series {
	t.Helper()
	r, err := series.Run(context.Background(), series.Job{Files: files, Collection: library.Starter(), Phases: []string{"copper"}, Conditions: c,
		Load: func(int) (analysis.Job, error) { return analysis.Job{}, assert.AnError }})
	require.NoError(t, err)
	return r
}

func TestConditionsAreMatchedByName(t *testing.T) {
	c := result.Conditions{Columns: []string{"section", "temperature_C", "hours"}, Rows: map[string][]string{
		"night/a.xy": {"transverse", "150", "0"}, `b.xy`: {"rolled", "150", "2,5"}, "stray.xy": {"", "", ""}}}
	r := empty(t, c, `night\a.xy`, "other/b.xy")
	assert.Equal(t, "hours", r.Abscissa, "the first numeric column that varies")
	assert.Equal(t, []bool{false, true, true}, r.Numeric)
	assert.Equal(t, []string{"transverse", "150", "0"}, r.Scans[0].Conditions)
	require.NotNil(t, r.Scans[1].Abscissa)
	assert.Equal(t, 2.5, *r.Scans[1].Abscissa)
	extra, missing := c.Unmatched([]string{"night/a.xy", "c.xy"})
	assert.Equal(t, []string{"b.xy", "stray.xy"}, extra)
	assert.Equal(t, []string{"c.xy"}, missing)
}

// Dates serve where no column of numbers does: as days since the first day, times of day counted in.
func TestDatesAreConditions(t *testing.T) {
	rows := map[string][]string{"a": {"2026-02-27", "4"}, "b": {"01.03.2026 12:00", "4"}, "c": {"2026-03-02T06:00", "4"}, "d": {"", ""}}
	r := empty(t, result.Conditions{Columns: []string{"taken", "kV"}, Rows: rows}, "c", "a", "b", "d")
	assert.Equal(t, "taken, days since 2026-02-27", r.Abscissa)
	assert.Equal(t, []bool{false, true}, r.Numeric, "a table keeps dates as they are typed")
	for i, want := range []float64{3.25, 0, 2.5} { // February 2026 has 28 days
		require.NotNil(t, r.Scans[i].Abscissa)
		assert.InDelta(t, want, *r.Scans[i].Abscissa, 1e-12)
	}
	assert.Nil(t, r.Scans[3].Abscissa)
	assert.Contains(t, r.Cautions[len(r.Cautions)-1].Text+r.Cautions[0].Text, "no taken for d")
	rows["a"][1] = "5"
	r = empty(t, result.Conditions{Columns: []string{"taken", "kV"}, Rows: rows}, "a", "b", "c")
	assert.Equal(t, "kV", r.Abscissa, "numbers come first")
	rows = map[string][]string{"a": {"3/4/2026"}, "b": {"5/4/2026"}}
	assert.Empty(t, empty(t, result.Conditions{Columns: []string{"taken"}, Rows: rows}, "a", "b").Abscissa, "another day in another country")
	for _, text := range []string{"", "2026", "2026-02-30", "30.2.2026", "1.5", "0001-01-01", "2026-02-27 25:00"} {
		_, ok := result.ParseDate(text)
		assert.False(t, ok, text)
	}
	for _, text := range []string{"2026-02-27", "27.2.2026", "27.02.2026 00:00", "2026-02-27T00:00:00Z", "2026-02-27T01:00:00+01:00"} {
		day, ok := result.ParseDate(text)
		assert.True(t, ok, text)
		assert.Equal(t, int64(1772150400), day.Unix(), text) // date -u -d 2026-02-27 +%s
	}
}

// With few values there is nothing to draw along; missing rows are told.
func TestConditionsMissing(t *testing.T) {
	c := result.Conditions{Columns: []string{"hours"}, Rows: map[string][]string{"a": {"1"}, "b": {"2"}}}
	r := empty(t, c, "a", "b", "x1", "x2", "x3", "x4", "x5", "x6")
	assert.Empty(t, r.Abscissa, "known for two of eight")
	assert.Nil(t, r.Scans[0].Abscissa)
	assert.Equal(t, []string{""}, r.Scans[2].Conditions)
	text := ""
	for _, k := range r.Cautions {
		if k.Code == "conditions-missing" {
			text = k.Text
		}
	}
	assert.True(t, strings.HasSuffix(text, "x1, x2, x3, x4 and 2 more."), text)
	none := empty(t, result.Conditions{}, "a")
	assert.Empty(t, none.Conditions)
	for _, k := range none.Cautions {
		assert.NotEqual(t, "conditions-missing", k.Code)
	}
}

// One missing row or cell does not spoil the trend of the others; it is told.
func TestMostConditionsAreEnough(t *testing.T) {
	c := result.Conditions{Columns: []string{"note", "hours"}, Rows: map[string][]string{"a": {"", "1"}, "b": {"", "2"}, "c": {"x", ""}}}
	r := empty(t, c, "a", "b", "c", "a/a")
	assert.Equal(t, "hours", r.Abscissa)
	require.NotNil(t, r.Scans[1].Abscissa)
	assert.Nil(t, r.Scans[2].Abscissa)
	require.NotNil(t, r.Scans[3].Abscissa, "by its last part")
	require.NotEmpty(t, r.Cautions)
	assert.Equal(t, "The table of conditions has no hours for c. Trends leave out what has none.", r.Cautions[0].Text)
}

// Two rows that only folders tell apart belong to no third file; a row whose whole name fits comes first.
func TestConditionsThatFitTwice(t *testing.T) {
	c := result.Conditions{Columns: []string{"hours"}, Rows: map[string][]string{"a/one.xy": {"1"}, "b/one.xy": {"2"}}}
	assert.Equal(t, []string{"2"}, c.Of("b/one.xy"))
	assert.Equal(t, []string{"1"}, c.Of(`a\one.xy`))
	assert.Nil(t, c.Of("c/one.xy"))
	_, missing := c.Unmatched([]string{"a/one.xy", "c/one.xy"})
	assert.Equal(t, []string{"c/one.xy"}, missing)
}

func BenchmarkConditions(b *testing.B) {
	c := result.Conditions{Columns: []string{"hours"}, Rows: map[string][]string{}}
	var files []string
	for i := range 2000 {
		files = append(files, "night/"+strconv.Itoa(i)+".xy")
		c.Rows[strconv.Itoa(i)+".xy"] = []string{strconv.Itoa(i)}
	}
	for b.Loop() {
		if extra, missing := c.Unmatched(files); len(extra)+len(missing) > 0 {
			b.Fatal("all match")
		}
	}
}
