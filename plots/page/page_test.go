package page_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/page"
	"phasetally/refdata/library"
	"phasetally/xrd"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/scanfile"
)

// A bench loads the demo scan; what its hooks say happens to a command line that holds their key.
type bench struct {
	job   analysis.Job
	hooks map[string]func(ctx context.Context) error

	mu    sync.Mutex
	ended []error // of contexts that a hook has waited for
}

func newBench(t *testing.T) *bench {
	f, err := os.Open("../../testdata/bushing-aged.xy")
	require.NoError(t, err)
	defer f.Close()
	scan, err := scanfile.Read(f, "a.xy")
	require.NoError(t, err)
	cu, err := xrd.ParseRadiation("Cu")
	require.NoError(t, err)
	return &bench{job: analysis.Job{Measurement: analysis.Measurement{Scan: scan, File: "a.xy"}, Setting: analysis.Setting{Radiation: cu},
		Search: analysis.Search{Collection: library.Starter()}}}
}

func (b *bench) load(ctx context.Context, args []string) (analysis.Job, error) {
	for key, hook := range b.hooks {
		if slices.ContainsFunc(args, func(a string) bool { return strings.Contains(a, key) }) {
			if err := hook(ctx); err != nil {
				return analysis.Job{}, err
			}
		}
	}
	job := b.job
	job.Phases = []string{"bronze-alpha", "cu6sn5-eta"}
	if i := slices.Index(args, "--phase"); i >= 0 {
		job.Phases = strings.Split(args[i+1], ",")
	}
	return job, nil
}

// wait is a fit that takes for ever, until it is stopped.
func (b *bench) wait(ctx context.Context) error {
	<-ctx.Done()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.ended = append(b.ended, ctx.Err())
	return ctx.Err()
}

// state is what the tests read of the page.
type state struct {
	Shown  int
	Unkept string
	Scans  []struct{ Name, Sentence, Trouble string }
	Work   *struct {
		Busy, Stale bool
		Trouble     string
		State       int
		Answer      *struct {
			Sentence string
			Claims   []struct{ ID, Weight string }
		}
		Log     []struct{ Words string }
		Command string
	}
}

func (c *caller) state() (s state) {
	c.t.Helper()
	_, text, _ := c.do("GET", "/state", "")
	require.NoError(c.t, json.Unmarshal([]byte(text), &s), text)
	return s
}

// settled waits until the latest choice is answered.
func (c *caller) settled() (s state) {
	c.t.Helper()
	require.Eventually(c.t, func() bool {
		s = c.state()
		return s.Work != nil && !s.Work.Busy && (s.Work.Answer != nil && !s.Work.Stale || s.Work.Trouble != "")
	}, 2*time.Minute, 5*time.Millisecond)
	return s
}

func (c *caller) post(path, body string) (int, string) {
	c.t.Helper()
	status, text, _ := c.do("POST", path, body, "Origin", c.base)
	return status, text
}

func start(t *testing.T, b *bench, scans ...string) (*caller, page.Options) {
	t.Helper()
	o := options(t)
	o.Load, o.Scans = b.load, scans
	c, address := serve(t, o)
	c.letIn(address)
	return c, o
}

// While a fit runs the old answer is shown as such; a newer choice stops it, and both are in the log.
func TestANewerChoiceStopsAnOlderFit(t *testing.T) {
	b := newBench(t)
	b.hooks = map[string]func(context.Context) error{"30:31": b.wait}
	c, _ := start(t, b, "a.xy")
	first := c.settled()
	status, text := c.post("/choose", `{"kind":"mask","range":[30,31]}`)
	require.Equal(t, 200, status, text)
	during := c.state()
	assert.True(t, during.Work.Busy)
	assert.True(t, during.Work.Stale, "the numbers are those of before")
	assert.Equal(t, first.Work.Answer, during.Work.Answer)
	assert.Equal(t, 1, during.Work.State)
	status, _ = c.post("/save", "{}")
	assert.Equal(t, 422, status, "old numbers are not written as new")
	status, text = c.post("/choose", `{"kind":"set","set":{"mask":["50:51"]}}`)
	require.Equal(t, 200, status, text)
	after := c.settled()
	assert.False(t, after.Work.Stale)
	assert.Empty(t, after.Work.Trouble)
	assert.Len(t, after.Work.Log, 3, "nothing is lost")
	assert.Equal(t, 2, after.Work.State)
	require.Eventually(t, func() bool { b.mu.Lock(); defer b.mu.Unlock(); return len(b.ended) == 1 }, time.Minute, time.Millisecond)
	assert.ErrorIs(t, b.ended[0], context.Canceled)
}

func TestStopTakesTheChoiceBack(t *testing.T) {
	b := newBench(t)
	b.hooks = map[string]func(context.Context) error{"30:31": b.wait}
	c, _ := start(t, b, "a.xy")
	first := c.settled()
	c.post("/choose", `{"kind":"mask","range":[30,31]}`)
	c.post("/stop", "{}")
	require.Eventually(t, func() bool { return len(c.state().Work.Log) == 1 }, time.Minute, 5*time.Millisecond)
	after := c.settled()
	assert.Contains(t, after.Work.Trouble, "Stopped")
	assert.Equal(t, first.Work.Answer, after.Work.Answer)
	assert.False(t, after.Work.Stale)
}

func TestAChoiceThatCannotBeFollowed(t *testing.T) {
	b := newBench(t)
	broken := errors.New("--range 1:2: nothing is left")
	b.hooks = map[string]func(context.Context) error{"1:2": func(context.Context) error { return broken }, "3:4": func(context.Context) error { panic("out of order") }}
	c, _ := start(t, b, "a.xy")
	first := c.settled()
	for choice, want := range map[string]string{`{"kind":"set","set":{"range":["1:2"]}}`: broken.Error(), `{"kind":"set","set":{"range":["3:4"]}}`: "unexpected failure: out of order",
		`{"kind":"include","id":"no-such-phase"}`: "no-such-phase"} {
		c.post("/choose", choice)
		require.Eventually(t, func() bool { return strings.Contains(c.state().Work.Trouble, want) }, time.Minute, 5*time.Millisecond, choice)
		after := c.settled()
		assert.Equal(t, first.Work.Answer, after.Work.Answer, choice)
		assert.Equal(t, first.Work.Command, after.Work.Command, choice)
	}
	c.post("/choose", `{"kind":"leaveout","id":"cu6sn5-eta"}`)
	assert.Empty(t, c.settled().Work.Trouble, "work goes on")
}

// All scans are answered, the one that is shown first; one that cannot be read stops none.
func TestSeveralScans(t *testing.T) {
	b := newBench(t)
	b.hooks = map[string]func(context.Context) error{"b.xy": func(context.Context) error { return errNoScan }}
	c, o := start(t, b, "a.xy", "b.xy", "c.xy")
	require.Eventually(t, func() bool {
		s := c.state()
		return s.Scans[0].Sentence != "" && s.Scans[1].Trouble != "" && s.Scans[2].Sentence != ""
	}, 2*time.Minute, 10*time.Millisecond)
	c.post("/show", `{"scan":2}`)
	c.post("/choose", `{"kind":"leaveout","id":"cu6sn5-eta"}`)
	s := c.settled()
	assert.Equal(t, 2, s.Shown)
	assert.Len(t, s.Work.Answer.Claims, 1)
	_, text, _ := c.do("GET", "/compare?a=0.0&b=2.1", "")
	assert.Contains(t, text, `"same":false`)
	assert.Contains(t, text, `"change":"`)
	raw, err := os.ReadFile(filepath.Join(o.Keep, "choices.json"))
	require.NoError(t, err)
	assert.Contains(t, string(raw), "cu6sn5-eta")
	_, err = page.New(t.Context(), o)
	require.ErrorIs(t, err, page.ErrKept, "another page must not keep its choices in the same folder")
	assert.Contains(t, err.Error(), "at work there")
}

// Of many scans only the latest keep their answers; the others keep the sentence, and are there again when they are shown.
func TestManyScansAreForgottenAndSolvedAnew(t *testing.T) {
	var names []string
	for i := range 12 {
		names = append(names, fmt.Sprintf("%d.xy", i))
	}
	c, _ := start(t, newBench(t), names...)
	require.Eventually(t, func() bool {
		return !slices.ContainsFunc(c.state().Scans, func(s struct{ Name, Sentence, Trouble string }) bool { return s.Sentence == "" })
	}, 2*time.Minute, 20*time.Millisecond)
	kept := 0
	for i := range names {
		if status, _, _ := c.do("GET", fmt.Sprintf("/curves?scan=%d", i), ""); status == 200 {
			kept++
		}
	}
	assert.Equal(t, 9, kept, "the one that is shown and eight more")
	for _, i := range []int{1, 11} {
		c.post("/show", fmt.Sprintf(`{"scan":%d}`, i))
		assert.NotNil(t, c.settled().Work.Answer)
	}
}

func TestChoicesThatCannotBeKeptAreTold(t *testing.T) {
	b := newBench(t)
	o := options(t)
	blocked := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(blocked, nil, 0o600))
	o.Load, o.Scans, o.Keep = b.load, []string{"a.xy"}, filepath.Join(blocked, "kept")
	c, address := serve(t, o)
	c.letIn(address)
	s := c.settled()
	assert.Contains(t, s.Unkept, "Choices are not kept")
	assert.NotNil(t, s.Work.Answer, "work goes on")
}

// What is written has the choices; a folder that is there is replaced only when that is wanted.
func TestSave(t *testing.T) {
	b := newBench(t)
	o := options(t)
	var written []result.Document
	o.Load, o.Scans = b.load, []string{"a.xy"}
	o.Save = func(_ string, r result.Analysis, replace bool) (string, error) {
		written = append(written, r.Document)
		return "a-phases", nil
	}
	c, address := serve(t, o)
	c.letIn(address)
	c.settled()
	c.post("/choose", `{"kind":"leaveout","id":"cu6sn5-eta"}`)
	c.settled()
	status, text := c.post("/save", `{"replace":false}`)
	require.Equal(t, 200, status, text)
	assert.Contains(t, text, `"saved":"a-phases"`)
	require.Len(t, written, 1)
	assert.Equal(t, []string{"cu6sn5-eta left out of the fit"}, written[0].Choices)
	assert.NotNil(t, written[0].Provenance.Started)
	c.post("/undo", "{}")
	assert.NotContains(t, c.settled().Work.Command, "--phase")
	_, text, _ = c.do("GET", "/state", "")
	assert.Contains(t, text, `"saved":""`, "what is shown now has not been written")
}

func TestFigures(t *testing.T) {
	c, _ := start(t, newBench(t), "Grüße ü.xy")
	c.settled()
	for path, want := range map[string]string{"/figure?format=svg": "<svg", "/figure?format=svg&width=one-column&dark=true": "<svg", "/figure?format=png&width=slide": "\x89PNG"} {
		status, text, h := c.do("GET", path, "")
		require.Equal(t, 200, status, path)
		assert.True(t, strings.HasPrefix(text, want) || strings.Contains(text[:300], want), path)
		assert.Contains(t, h.Get("Content-Disposition"), "filename*=UTF-8''Gr%C3%BC%C3%9Fe-%C3%BC-pattern.")
	}
	status, _, _ := c.do("GET", "/figure?format=svg&width=poster", "")
	assert.Equal(t, 422, status)
	status, text, _ := c.do("GET", "/curves?preview=cuprite&lo=30&hi=40&most=400", "")
	require.Equal(t, 200, status)
	assert.Contains(t, text, `"preview":[{`)
	status, _, _ = c.do("GET", "/curves?preview=no-such-phase", "")
	assert.Equal(t, 422, status)
}
