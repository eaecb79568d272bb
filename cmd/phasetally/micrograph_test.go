package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
)

func TestParseAreas(t *testing.T) {
	for text, want := range map[string][]analysis.Area{
		"lead=8±1":             {{ID: "lead", Percent: 8, U: 1}},
		" lead = 8 +- 1 ":      {{ID: "lead", Percent: 8, U: 1}},
		"lead=0±0.5":           {{ID: "lead", Percent: 0, U: 0.5}},
		"lead=100/2":           {{ID: "lead", Percent: 100, U: 2}},
		"lead=8±1,cuprite=5/2": {{ID: "lead", Percent: 8, U: 1}, {ID: "cuprite", Percent: 5, U: 2}},
	} {
		got, err := parseAreas([]string{text})
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, bad := range []string{"", "lead", "lead=", "=8±1", "lead=8", "lead=8±0", "lead=8±-1", "lead=101±1", "lead=-1±1", "lead=NaN±1", "lead=8±NaN", "lead=Inf±1", "lead=8±1,"} {
		_, err := parseAreas([]string{bad})
		assert.ErrorContains(t, err, "--area", "%q", bad)
	}
}

func FuzzParseAreas(f *testing.F) {
	for _, s := range []string{"lead=8±1", "a=1/2,b=3+-4", "=±"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		list, err := parseAreas([]string{s})
		for _, a := range list {
			if err != nil || a.ID == "" || !(a.Percent >= 0 && a.Percent <= 100) || !(a.U > 0) {
				t.Fatalf("%q: %+v, %v", s, a, err)
			}
		}
	})
}

// Columns of the table of conditions state intercepts and how much they differ; flags win; what cannot be read names file and column.
func TestInterceptsOfConditions(t *testing.T) {
	table := result.Conditions{Columns: []string{"hours", "Intercept", "intercept_cv2"}, Rows: map[string][]string{
		"a.xy": {"1", "12±3; 4±1:lead", "0.7±0.1"}, "b.xy": {"2", "", ""}, "c.xy": {"3", "twelve", ""}, "d.xy": {"4", "12", "-1"}}}
	own := analysis.Micrograph{Intercepts: []xrd.Intercept{{Micron: 9, U: 2}}, Spread: xrd.InterceptSpread{CV2: 0.3, U: 0.1}}
	job := analysis.Job{Micrograph: own}
	var o options
	require.NoError(t, o.interceptsOf(&job, table, "a.xy"))
	assert.Equal(t, []xrd.Intercept{{Micron: 12, U: 3}, {ID: "lead", Micron: 4, U: 1}}, job.Intercepts)
	assert.Equal(t, xrd.InterceptSpread{CV2: 0.7, U: 0.1}, job.Spread)
	for _, file := range []string{"b.xy", "unlisted.xy"} {
		job = analysis.Job{Micrograph: own}
		require.NoError(t, o.interceptsOf(&job, table, file))
		assert.Equal(t, own, job.Micrograph, "what the scan says stays")
	}
	assert.ErrorContains(t, o.interceptsOf(&job, table, "c.xy"), "c.xy, column intercept: ")
	assert.ErrorContains(t, o.interceptsOf(&job, table, "d.xy"), "d.xy, column intercept_cv2: ")
	o = options{intercepts: []string{"5"}, interceptCV2: "1"}
	job = analysis.Job{Micrograph: own}
	require.NoError(t, o.interceptsOf(&job, table, "a.xy"))
	assert.Equal(t, own, job.Micrograph, "flags win")
}
