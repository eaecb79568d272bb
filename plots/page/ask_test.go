package page_test

import (
	"bufio"
	"encoding/json"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/report"
)

// get reads an answer of the page as JSON.
func (c *caller) get(path string, into any) {
	c.t.Helper()
	status, text, _ := c.do("GET", path, "")
	require.Equal(c.t, 200, status, "%s: %s", path, text)
	require.NoError(c.t, json.Unmarshal([]byte(text), into), path)
}

// offered is what the tests read of a list of phases.
type offered struct {
	At                float64
	Candidates, Found []struct {
		ID, Name, Formula, Text, Decide string
		Lines                           []float64
	}
	More bool
}

// What could be at an angle: the phase that is missing comes first and one that is in the answer is not offered. What could be nowhere
// is an empty list, what is no angle an objection.
func TestAskAboutAnAngle(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy") // without its cuprite
	c.settled()
	var at offered
	c.get("/ask?at=36.43", &at)
	require.NotEmpty(t, at.Candidates)
	assert.Equal(t, "cuprite", at.Candidates[0].ID)
	assert.InDelta(t, 36.43, at.Candidates[0].Lines[indexNear(at.Candidates[0].Lines, 36.43)], 0.1)
	assert.LessOrEqual(t, len(at.Candidates), 12)
	c.get("/ask?at=42.5", &at) // the strongest line of the bronze
	for _, one := range at.Candidates {
		assert.NotContains(t, []string{"bronze-alpha", "cu6sn5-eta"}, one.ID, "it is in the answer")
	}
	at = offered{}
	c.get("/ask?at=2.3", &at)
	assert.Empty(t, at.Candidates)
	for _, bad := range []string{"", "abc", "NaN", "0", "180", "-4"} {
		status, _, _ := c.do("GET", "/ask?at="+url.QueryEscape(bad), "")
		assert.Equal(t, 422, status, bad)
	}
}

func indexNear(values []float64, want float64) (best int) {
	for i, v := range values {
		if abs(v-want) < abs(values[best]-want) {
			best = i
		}
	}
	return best
}

func abs(v float64) float64 { return max(v, -v) }

// The collection is searched by id, name, formula and synonym, and by elements; a long list says that there is more.
func TestFindInTheReferenceData(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	c.settled()
	ids := func(query string) (out []string) {
		var f offered
		c.get("/find?"+query, &f)
		for _, one := range f.Found {
			out = append(out, one.ID)
		}
		return out
	}
	for _, words := range []string{"cuprite", "CUPRITE", "Cu2O", "copper(I) oxide"} {
		assert.Contains(t, ids("words="+url.QueryEscape(words)), "cuprite", words)
	}
	assert.Empty(t, ids("words=no-such-phase"))
	both := ids("element=Cu&element=O")
	assert.Contains(t, both, "tenorite")
	assert.NotContains(t, both, "bronze-alpha", "it holds tin")
	var all offered
	c.get("/find?words=", &all)
	assert.Len(t, all.Found, 40)
	assert.True(t, all.More)
}

// Two choices side by side: both values of a phase that both have, a dash for one that only one has, and an objection for a choice or a
// scan that is not there.
func TestCompareTwoChoices(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	first := c.settled()
	status, text := c.post("/choose", `{"kind":"include","id":"cuprite"}`)
	require.Equal(t, 200, status, text)
	c.settled()
	var v struct {
		Rows []struct{ Name, A, B, Change, Z string }
		Same bool
		Top  [2]float64
		Span [2][2]float64
		A    struct{ Sentence string }
	}
	c.get("/compare?a=0.0&b=0.1", &v)
	require.Len(t, v.Rows, 3)
	assert.True(t, v.Same)
	assert.Equal(t, first.Work.Answer.Sentence, v.A.Sentence)
	assert.Equal(t, v.Top[0], v.Top[1])
	assert.Equal(t, [2]float64{20, 100}, v.Span[1])
	number := func(s string) float64 {
		f, err := strconv.ParseFloat(strings.TrimSpace(strings.Split(s, "±")[0]), 64)
		require.NoError(t, err, s)
		return f
	}
	var sum float64
	for _, r := range v.Rows {
		sum += number(r.B)
		if r.Name == "cuprite" {
			assert.Equal(t, [3]string{"–", "–", "–"}, [3]string{r.A, r.Change, r.Z})
			continue
		}
		assert.InDelta(t, number(r.B)-number(r.A), number(r.Change), 0.011, r.Name)
	}
	assert.InDelta(t, 100, sum, 0.02)
	for _, bad := range []string{"a=0.0&b=0.7", "a=3.0&b=0.0", "a=0.x&b=0.0", "a=0.-1&b=0.0"} {
		status, _, _ := c.do("GET", "/compare?"+bad, "")
		assert.Equal(t, 422, status, bad)
	}
}

// The table to take away has a row for each claim, with as many cells as its head.
func TestTableHasTheClaims(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	s := c.settled()
	var rows [][]string
	c.get("/table", &rows)
	require.Len(t, rows, 1+len(s.Work.Answer.Claims))
	for _, r := range rows {
		assert.Len(t, r, len(rows[0]))
	}
	assert.Equal(t, "Phase", rows[0][0])
}

// Every tab is told of a change by its number, at once with the first and again with each that follows.
func TestEventsTellTheRevision(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	c.settled()
	resp, err := c.client.Get(c.base + "/events")
	require.NoError(t, err)
	defer resp.Body.Close()
	lines := bufio.NewScanner(resp.Body)
	next := func() int {
		for lines.Scan() {
			if m := regexp.MustCompile(`^data: (\d+)$`).FindStringSubmatch(lines.Text()); m != nil {
				n, err := strconv.Atoi(m[1])
				require.NoError(t, err)
				return n
			}
		}
		require.Fail(t, "the page has stopped telling")
		return 0
	}
	before := next()
	status, text := c.post("/choose", `{"kind":"mask","range":[60,61]}`)
	require.Equal(t, 200, status, text)
	var reply struct{ Revision int }
	require.NoError(t, json.Unmarshal([]byte(text), &reply))
	assert.Greater(t, reply.Revision, before, "the reply is news, too")
	last := next()
	for last <= reply.Revision { // the fit has ended when a greater one comes
		last = next()
	}
	assert.Empty(t, c.state().Work.Trouble)
}

// A figure is as wide as was asked for; the limits stand at the foot in the words of every other page.
func TestWidthsAndLimits(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	c.settled()
	for mm, want := range map[string]float64{"60": 60, "120": 120, "171.5": 171.5, "400": 400} {
		status, text, _ := c.do("GET", "/figure?format=svg&width="+mm, "")
		require.Equal(t, 200, status, mm)
		m := regexp.MustCompile(`<svg [^>]*width="([\d.]+)pt"`).FindStringSubmatch(text)
		require.NotNil(t, m, text[:200])
		points, err := strconv.ParseFloat(m[1], 64)
		require.NoError(t, err)
		assert.InDelta(t, want, points*25.4/72, 0.1, mm)
	}
	for _, bad := range []string{"59.9", "401", "-1", "NaN", "Inf", "1e9", "wide"} {
		status, _, _ := c.do("GET", "/figure?format=svg&width="+bad, "")
		assert.Equal(t, 422, status, bad)
	}
	_, text, _ := c.do("GET", "/", "")
	assert.Contains(t, text, report.Safety())
	assert.Contains(t, report.Safety(), "interlocks")
	assert.NotContains(t, text, "<!--")
}
