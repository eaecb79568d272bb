package page_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/cookiejar"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/page"
	"phasetally/xrd/analysis"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/session"
)

// serveUntil serves a page until it is stopped, lets the caller in, and waits for nothing.
func serveUntil(t *testing.T, o page.Options) (c *caller, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	s, err := page.New(ctx, o)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(l) }()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	c = &caller{t, "http://" + l.Addr().String(), &http.Client{Jar: jar, Timeout: 20 * time.Second}}
	c.letIn(s.Address(l))
	once := false
	stop = func() {
		if !once {
			once = true
			cancel()
			assert.NoError(t, <-ended)
		}
	}
	t.Cleanup(stop)
	return c, stop
}

// shortBench loads a piece of the demo scan, for tests in which it does not matter what is fitted.
func shortBench(t *testing.T) *bench {
	b := newBench(t)
	short, err := b.job.Scan.Crop(39, 48)
	require.NoError(t, err)
	b.job.Scan = short
	return b
}

// fullState is what tests read of the page beside the numbers.
type fullState struct {
	Revision int
	ReadOnly bool `json:"read_only"`
	Shown    int
	Unkept   string
	Scans    []struct {
		Name, Sentence, Trouble string
		Choices                 int
	}
	Files []struct{ Name, Kind, Words, Path string }
	Work  *struct {
		Masks    [][2]float64
		Range    [2]float64
		Settings session.Settings
		Command  string
		Sample   string
		CanUndo  bool `json:"can_undo"`
		CanRedo  bool `json:"can_redo"`
		ByHand   bool `json:"by_hand"`
		State    int
		Log      []struct {
			State         int
			Words         string
			Onward, Shown bool
		}
	}
}

func (c *caller) full() (s fullState) {
	c.t.Helper()
	c.get("/state", &s)
	return s
}

// What was chosen is found again by the next page of the folder: scans, the one that was shown, every choice with its log, what was undone, and the
// files that were dropped.
func TestChoicesAreFoundAgain(t *testing.T) {
	b := shortBench(t)
	o := options(t)
	o.Load, o.Scans = b.load, []string{"a.xy", "b.xy"}
	c, stop := serveUntil(t, o)
	c.settled()
	c.drop(map[string]string{"dropped.xy": "content"})
	for _, choice := range []string{`{"scan":1}`} {
		status, text := c.post("/show", choice)
		require.Equal(t, 200, status, text)
	}
	for _, choice := range []string{`{"kind":"mask","range":[30,31]}`, `{"kind":"leaveout","id":"cu6sn5-eta"}`, `{"kind":"set","set":{"range":["25:95"]}}`} {
		c.settled()
		status, text := c.post("/choose", choice)
		require.Equal(t, 200, status, text)
	}
	c.settled()
	c.post("/undo", "{}")
	c.settled()
	before := c.full()
	stop()

	o.Scans = nil // as the program is started without a name
	c, _ = serveUntil(t, o)
	c.settled()
	after := c.full()
	assert.Equal(t, before.Shown, after.Shown)
	assert.Equal(t, before.Files, after.Files)
	require.Len(t, after.Scans, 3)
	assert.Equal(t, before.Work.Log, after.Work.Log)
	assert.Equal(t, before.Work.Masks, after.Work.Masks)
	assert.Equal(t, before.Work.Command, after.Work.Command)
	assert.Equal(t, [][2]float64{{30, 31}}, after.Work.Masks)
	assert.True(t, after.Work.CanUndo && after.Work.CanRedo && after.Work.ByHand)
	assert.Equal(t, [2]float64{}, after.Work.Range, "it was undone")
	status, _ := c.post("/redo", "{}")
	require.Equal(t, 200, status)
	c.settled()
	assert.Equal(t, [2]float64{25, 95}, c.full().Work.Range)

	raw, err := os.ReadFile(filepath.Join(o.Keep, "choices.json"))
	require.NoError(t, err)
	var kept map[string]any
	require.NoError(t, json.Unmarshal(raw, &kept))
	assert.Equal(t, "phasetally.choices/1", kept["schema"])
}

// A scan that is named again is the one that was kept; one that is named with other settings is another.
func TestNamedAgain(t *testing.T) {
	o := options(t)
	o.Scans = []string{"a.xy"}
	_, stop := serveUntil(t, o)
	stop()
	for _, c := range []struct {
		scans []string
		given session.Settings
		want  int
		shown int
	}{{[]string{"a.xy"}, nil, 1, 0}, {[]string{"b.xy"}, nil, 2, 1}, {[]string{"a.xy"}, session.Settings{"radiation": {"Co"}}, 3, 2}, {[]string{"a.xy"}, session.Settings{"radiation": {"Co"}}, 3, 2}} {
		o.Scans, o.Given = c.scans, c.given
		page, stop := serveUntil(t, o)
		s := page.full()
		assert.Len(t, s.Scans, c.want, "%+v", c)
		assert.Equal(t, c.shown, s.Shown, "%+v", c)
		stop()
	}
}

// What was kept and shows a scan that is not there shows the first.
func TestKeptPageShowsAScanThatIsThere(t *testing.T) {
	o := options(t)
	require.NoError(t, os.MkdirAll(o.Keep, 0o755))
	one, err := json.Marshal(session.New("a.xy", nil))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(o.Keep, "choices.json"), fmt.Appendf(nil, `{"schema":"phasetally.choices/1","shown":7,"scans":[%s]}`, one), 0o600))
	c, _ := serveUntil(t, o)
	s := c.full()
	assert.Equal(t, 0, s.Shown)
	require.NotNil(t, s.Work)
	assert.Equal(t, "a.xy", s.Work.Sample)
}

// Reference data that are dropped are used by the scan that is shown; those that come with a scan, by it. A page tells names of files, never folders.
func TestDroppedReferenceDataAreUsed(t *testing.T) {
	b := shortBench(t)
	o := options(t)
	o.Load, o.Scans = b.load, []string{"a.xy"}
	o.Recognise = func(_ context.Context, name string) (page.Kind, string, error) {
		if strings.HasSuffix(name, ".cif") {
			return page.KindReference, "one structure", nil
		}
		return page.KindScan, "a scan", nil
	}
	c, _ := serveUntil(t, o)
	c.settled()
	status, text := c.drop(map[string]string{"own.cif": "data_own"})
	require.Equal(t, 200, status, text)
	c.settled()
	s := c.full()
	assert.Equal(t, []string{"own.cif"}, s.Work.Settings["library"])
	assert.Equal(t, 1, s.Scans[0].Choices)
	assert.Contains(t, s.Work.Command, filepath.Join(o.Keep, "dropped", "own.cif"), "the command can be run as it is")
	for _, l := range s.Work.Log {
		assert.NotContains(t, l.Words, o.Keep)
	}
	_, text = c.drop(map[string]string{"own.cif": "data_own"})
	assert.Contains(t, text, "own.cif")
	assert.Len(t, c.full().Work.Settings["library"], 1, "it is used already")

	status, text = c.drop(map[string]string{"new.xy": "content", "other.cif": "data_other"})
	require.Equal(t, 200, status, text)
	c.settled()
	s = c.full()
	assert.Len(t, s.Scans, 2)
	assert.Equal(t, 1, s.Shown, "the scan that was dropped is shown")
	assert.Equal(t, []string{"other.cif"}, s.Work.Settings["library"])
	assert.Empty(t, s.Files[0].Path, "no path is told")

	status, text = c.post("/choose", `{"kind":"set","set":{"library":["own.cif"]}}`)
	require.Equal(t, 200, status, text)
	c.settled()
	assert.Equal(t, []string{"own.cif"}, c.full().Work.Settings["library"], "by its name")
	status, text = c.post("/choose", `{"kind":"set","set":{"k-standard":["new.xy=corundum"]}}`)
	require.Equal(t, 200, status, text)
	c.settled()
	s = c.full()
	assert.Equal(t, []string{"new.xy=corundum"}, s.Work.Settings["k-standard"])
	assert.Contains(t, s.Work.Command, "new.xy=corundum")
	status, text = c.post("/choose", `{"kind":"set","set":{"library":[]}}`)
	require.Equal(t, 200, status, text)
	c.settled()
	assert.NotContains(t, c.full().Work.Settings, "library", "an empty list takes it back")
}

// Files that were given on the command line can be named on the page, each by its kind.
func TestGivenFilesAreKnown(t *testing.T) {
	o := options(t)
	o.Scans = []string{"a.xy"}
	o.Given = session.Settings{"library": {"own.cif"}, "instrument": {"ours.json"}, "preparation": {"lab.csv"}, "k-standard": {"standard.xy=corundum"}, "blank": {"mount.xy"}, "radiation": {"Cu"}}
	c, _ := serveUntil(t, o)
	got := map[string]string{}
	for _, f := range c.full().Files {
		got[f.Name] = f.Kind
	}
	assert.Equal(t, map[string]string{"a.xy": "scan", "own.cif": "reference data", "ours.json": "instrument", "lab.csv": "preparation materials", "standard.xy": "scan", "mount.xy": "scan"}, got)
}

// A folder that is there is told as such and replaced when that is wanted; what else goes wrong is told in its words.
func TestSaveThatFails(t *testing.T) {
	b := shortBench(t)
	o := options(t)
	var replaced []bool
	failure := error(nil)
	o.Load, o.Scans = b.load, []string{"a.xy"}
	o.Save = func(scan string, _ result.Analysis, replace bool) (string, error) {
		replaced = append(replaced, replace)
		if failure != nil {
			return "", failure
		}
		if !replace {
			return scan + "-phases", fmt.Errorf("save: %w", resultfile.ErrExists)
		}
		return scan + "-phases", nil
	}
	c, _ := serveUntil(t, o)
	c.settled()
	status, text := c.post("/save", "{}")
	assert.Equal(t, http.StatusConflict, status)
	assert.Contains(t, text, "a.xy-phases is there already")
	status, text = c.post("/save", `{"replace":true}`)
	assert.Equal(t, 200, status)
	assert.Contains(t, text, `"saved":"a.xy-phases"`)
	assert.Equal(t, []bool{false, true}, replaced)
	failure = fmt.Errorf("a.xy-phases: no room on the disk")
	status, text = c.post("/save", `{"replace":true}`)
	assert.Equal(t, 422, status)
	assert.Contains(t, text, "no room on the disk")
	status, _ = c.post("/save", `{"replace":1}`)
	assert.Equal(t, 422, status)
}

// While a fit runs the page says what is tried, in words; before and after it says nothing.
func TestWhatIsBeingTried(t *testing.T) {
	b := newBench(t)
	tell, goOn := make(chan struct{}), make(chan struct{})
	b.hooks = map[string]func(context.Context) error{"30:31": func(context.Context) error {
		close(tell)
		<-goOn
		return nil
	}}
	o := options(t)
	o.Load, o.Scans = b.load, []string{"a.xy"}
	c, _ := serveUntil(t, o)
	c.settled()
	var doing struct{ Words string }
	c.get("/doing", &doing)
	assert.Empty(t, doing.Words)
	c.post("/choose", `{"kind":"mask","range":[30,31]}`)
	<-tell
	c.get("/doing", &doing)
	assert.Empty(t, doing.Words, "nothing has been told yet")
	close(goOn)
	c.settled()
	c.get("/doing", &doing)
	assert.Empty(t, doing.Words, "it has ended")
}

// The form of the page has every setting of a session, with what it is for.
func TestFieldsOfTheForm(t *testing.T) {
	c, _ := serveUntil(t, options(t))
	var fields []struct{ Name, Label, Help, Group, Kind string }
	c.get("/fields", &fields)
	require.Len(t, fields, len(session.Fields()))
	for k, f := range session.Fields() {
		assert.Equal(t, f.Name, fields[k].Name)
		assert.NotEmpty(t, fields[k].Label)
		assert.NotEmpty(t, fields[k].Help, f.Name)
		assert.NotEmpty(t, fields[k].Group, f.Name)
		assert.Equal(t, string(f.Kind), fields[k].Kind)
	}
}

// An answer that is no longer there is worked out again when somebody asks for it: the first choice of a dozen and more is compared as if it had been
// kept.
func TestOldAnswersAreWorkedOutAgain(t *testing.T) {
	b := shortBench(t)
	var first counted
	b.hooks = map[string]func(context.Context) error{"40:40.5": first.hook}
	c, _ := start(t, b, "a.xy")
	c.settled()
	c.post("/choose", `{"kind":"mask","range":[40,40.5]}`)
	want := c.settled().Work.Answer
	c.post("/undo", "{}")
	c.settled()
	require.Equal(t, 1, first.fits())
	for i := range 13 {
		status, text := c.post("/choose", fmt.Sprintf(`{"kind":"set","set":{"mask":["44.%02d:45"]}}`, i))
		require.Equal(t, 200, status, text)
		c.settled()
	}
	var v struct{ A, B struct{ Sentence string } }
	c.get("/compare?a=0.1&b=0.0", &v)
	assert.Equal(t, 2, first.fits(), "it was forgotten")
	assert.Equal(t, want.Sentence, v.A.Sentence)
	c.get("/compare?a=0.1&b=0.0", &v)
	assert.Equal(t, 2, first.fits(), "and is kept again")
}

// What a figure cannot be is said; a link from another page may open ours, and nothing else.
func TestWhatIsRefused(t *testing.T) {
	c, _ := start(t, newBench(t), "a.xy")
	c.settled()
	for path, want := range map[string]string{"/figure?format=pdf": "a figure is svg or png", "/figure?format=": "a figure is svg or png"} {
		status, text, _ := c.do("GET", path, "")
		assert.Equal(t, 422, status, path)
		assert.Contains(t, text, want, path)
	}
	for _, r := range []struct {
		path, mode string
		want       int
	}{{"/", "navigate", 200}, {"/", "no-cors", 403}, {"/state", "navigate", 403}} {
		status, _, _ := c.do("GET", r.path, "", "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", r.mode)
		assert.Equal(t, r.want, status, "%+v", r)
	}
	for _, path := range []string{"/undo", "/go", "/show", "/choose"} {
		status, text := c.post(path, `{"state":"x"}`)
		assert.Equal(t, 422, status, path)
		assert.Contains(t, text, "not understood", path)
	}
	assert.NotNil(t, c.settled().Work.Answer, "work goes on")
}

// A page whose job reads nothing says so of every scan and goes on with others.
func TestProgressIsOfTheScanThatIsShown(t *testing.T) {
	o := options(t)
	o.Load = func(context.Context, []string) (analysis.Job, error) { return analysis.Job{}, errNoScan }
	o.Scans = []string{"a.xy", "b.xy"}
	c, _ := serveUntil(t, o)
	require.Eventually(t, func() bool {
		s := c.full()
		return s.Scans[0].Trouble != "" && s.Scans[1].Trouble != ""
	}, time.Minute, 5*time.Millisecond)
	status, _ := c.post("/stop", "{}")
	assert.Equal(t, 200, status, "nothing runs, nothing is stopped")
	assert.False(t, c.full().ReadOnly)
}
