package page_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"mime/multipart"
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
)

var errNoScan = errors.New("a.xy:1: expected angle and intensity; remove the line or start it with #")

// options are those of a page whose scans cannot be read and that takes any dropped file for a scan.
func options(t *testing.T) page.Options {
	return page.Options{Keep: filepath.Join(t.TempDir(), "kept"),
		Load: func(context.Context, []string) (analysis.Job, error) { return analysis.Job{}, errNoScan },
		Recognise: func(_ context.Context, name string) (page.Kind, string, error) {
			if strings.HasSuffix(name, ".bad") {
				return "", "", errors.New(name + ":1: not understood; drop a scan")
			}
			return page.KindScan, "a scan", nil
		},
		Save: func(string, result.Analysis, bool) (string, error) { return "", nil }}
}

// A caller speaks to a page as a browser that holds the key.
type caller struct {
	t      *testing.T
	base   string
	client *http.Client
}

func serve(t *testing.T, o page.Options) (*caller, string) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	s, err := page.New(ctx, o)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(l) }()
	t.Cleanup(func() { cancel(); assert.NoError(t, <-ended) })
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &caller{t, "http://" + l.Addr().String(), &http.Client{Jar: jar, Timeout: 20 * time.Second}}, s.Address(l)
}

// do sends a request; header holds pairs, a pair "Host" sets the host.
func (c *caller) do(method, path, body string, header ...string) (status int, text string, h http.Header) {
	c.t.Helper()
	r, err := http.NewRequest(method, c.base+path, strings.NewReader(body))
	require.NoError(c.t, err)
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			r.Host = header[i+1]
			continue
		}
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := c.client.Do(r)
	require.NoError(c.t, err)
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	require.NoError(c.t, err)
	return resp.StatusCode, string(b), resp.Header
}

func (c *caller) letIn(address string) {
	status, _, _ := c.do("GET", strings.TrimPrefix(address, c.base), "")
	require.Equal(c.t, 200, status)
}

func TestOnlyThePageItselfIsAnswered(t *testing.T) {
	c, address := serve(t, options(t))
	for _, path := range []string{"/", "/state", "/page.js", "/events", "/?key=wrong"} {
		status, text, _ := c.do("GET", path, "")
		assert.Equal(t, 403, status, path)
		assert.Contains(t, text, "open the address that the program has printed", path)
	}
	c.letIn(address)
	status, _, h := c.do("GET", "/state", "")
	require.Equal(t, 200, status)
	policy := h.Get("Content-Security-Policy")
	assert.Contains(t, policy, "default-src 'none'")
	assert.NotContains(t, policy, "unsafe")
	port := c.base[strings.LastIndexByte(c.base, ':'):]
	for _, r := range []struct {
		name, method, path string
		header             []string
		want               int
	}{
		{"our own origin", "POST", "/undo", []string{"Origin", c.base}, 422},
		{"by the other name", "POST", "/undo", []string{"Origin", "http://localhost" + port, "Host", "localhost" + port}, 403}, // its cookie is another host's
		{"a foreign origin", "POST", "/undo", []string{"Origin", "http://elsewhere.example"}, 403},
		{"a foreign origin that reads", "GET", "/state", []string{"Origin", "http://elsewhere.example"}, 403},
		{"another port", "POST", "/undo", []string{"Origin", "http://127.0.0.1:1"}, 403},
		{"no origin", "POST", "/undo", nil, 403},
		{"null", "POST", "/undo", []string{"Origin", "null"}, 403},
		{"a host that leads here", "GET", "/state", []string{"Host", "elsewhere.example" + port}, 403},
		{"a host that leads here, with the key", "GET", strings.TrimPrefix(address, c.base), []string{"Host", "elsewhere.example" + port}, 403},
		{"a host without port", "GET", "/state", []string{"Host", "127.0.0.1"}, 403},
		{"another page's script", "GET", "/page.js", []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"another port's page", "GET", "/curves", []string{"Sec-Fetch-Site", "same-site"}, 403},
		{"the address bar", "GET", "/", []string{"Sec-Fetch-Site", "none"}, 200},
		{"another method", "PUT", "/undo", []string{"Origin", c.base}, 405},
		{"our own origin, a wrong method", "GET", "/undo", nil, 405},
		{"no such page", "GET", "/../../etc/passwd", nil, 404},
	} {
		status, text, _ := c.do(r.method, r.path, "{}", r.header...)
		assert.Equal(t, r.want, status, "%s: %.100s", r.name, text)
	}
}

func TestRequestsThatAreNotUnderstood(t *testing.T) {
	o := options(t)
	o.Scans = []string{"a.xy"}
	c, address := serve(t, o)
	c.letIn(address)
	for _, r := range []struct{ name, path, body, want string }{
		{"no JSON", "/choose", "x", "not understood"},
		{"another key", "/choose", `{"kind":"include","id":"copper","path":"/etc/passwd"}`, "not understood"},
		{"two values", "/choose", `{"kind":"search"}{}`, "something follows"},
		{"too large", "/choose", `{"kind":"include","id":"` + strings.Repeat("x", 2<<20) + `"}`, "too large"},
		{"no kind", "/choose", `{"kind":"delete"}`, "not understood"},
		{"the last phase", "/choose", `{"kind":"leaveout","id":"copper"}`, "no phase would be left"},
		{"a file of the system", "/choose", `{"kind":"set","set":{"blank":["/etc/passwd"]}}`, "there is no file"},
		{"a file beside", "/choose", `{"kind":"set","set":{"library":["../secret.cif"]}}`, "there is no file"},
		{"a file of a standard", "/choose", `{"kind":"set","set":{"k-standard":["/etc/passwd=corundum"]}}`, "there is no file"},
		{"a flag that writes", "/choose", `{"kind":"set","set":{"out":["elsewhere"]}}`, "no setting"},
		{"no such state", "/go", `{"state":7}`, "nothing to go to"},
		{"no such scan", "/show", `{"scan":-1}`, "no such scan"},
		{"no answer to save", "/save", `{}`, "no answer yet"},
	} {
		status, text, _ := c.do("POST", r.path, r.body, "Origin", c.base)
		assert.Equal(t, 422, status, r.name)
		assert.Contains(t, text, r.want, r.name)
	}
	for _, path := range []string{"/ask?at=40", "/ask?at=NaN", "/curves", "/curves?scan=9", "/curves?state=9", "/curves?state=x", "/find?words=a", "/compare?a=0.0&b=0.0", "/figure?format=exe", "/table"} {
		status, text, _ := c.do("GET", path, "")
		assert.Equal(t, 422, status, path)
		assert.NotEmpty(t, text, path)
	}
}

func TestAScanThatCannotBeReadIsTold(t *testing.T) {
	o := options(t)
	o.Scans = []string{"a.xy"}
	c, address := serve(t, o)
	c.letIn(address)
	require.Eventually(t, func() bool {
		_, text, _ := c.do("GET", "/state", "")
		return strings.Contains(text, "expected angle and intensity")
	}, time.Minute, 10*time.Millisecond)
}

func TestReadOnly(t *testing.T) {
	o := options(t)
	o.ReadOnly, o.Scans = true, []string{"a.xy"}
	c, address := serve(t, o)
	c.letIn(address)
	for _, path := range []string{"/choose", "/undo", "/drop", "/save", "/show", "/stop"} {
		status, text, _ := c.do("POST", path, "{}", "Origin", c.base)
		assert.Equal(t, 403, status, path)
		assert.Contains(t, text, "reading only", path)
	}
	assert.NoDirExists(t, o.Keep)
}

// drop sends files as the page does.
func (c *caller) drop(files map[string]string) (int, string) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for name, text := range files {
		part, err := w.CreateFormFile("file", name)
		require.NoError(c.t, err)
		_, err = io.WriteString(part, text)
		require.NoError(c.t, err)
	}
	require.NoError(c.t, w.Close())
	status, text, _ := c.do("POST", "/drop", b.String(), "Origin", c.base, "Content-Type", w.FormDataContentType())
	return status, text
}

// Names of dropped files lead nowhere but into the folder of the page; what cannot be read is not kept.
func TestDroppedNames(t *testing.T) {
	o := options(t)
	c, address := serve(t, o)
	c.letIn(address)
	for name, want := range map[string]string{
		"scan.xy": "scan.xy", "../../etc/cron.d/x.xy": "x.xy", `C:\temp\y.xy`: "y.xy", "...": "file", ".bashrc": "bashrc", "a b|c?.xy": "a-bc.xy",
		"\u202eyx.nacs": "yx.nacs", strings.Repeat("n", 300) + ".xy": strings.Repeat("n", 97) + ".xy", "-rf.xy": "rf.xy", "Grüße 1.xy": "Grüße-1.xy",
	} {
		status, text := c.drop(map[string]string{name: "content of " + name})
		require.Equal(t, 200, status, text)
		assert.FileExists(t, filepath.Join(o.Keep, "dropped", want), "%q: %s", name, text)
	}
	before, err := os.ReadDir(filepath.Join(o.Keep, "dropped"))
	require.NoError(t, err)
	_, text := c.drop(map[string]string{"scan.xy": "another"})
	assert.Contains(t, text, "scan-2.xy", "nothing is written over")
	_, text = c.drop(map[string]string{"scan.xy": "another"})
	assert.Contains(t, text, "scan-2.xy", "the same file is not kept twice")
	_, text = c.drop(map[string]string{"picture.bad": "x"})
	assert.Contains(t, text, "picture.bad:1: not understood")
	assert.NotContains(t, text, o.Keep, "no path is told")
	_, text = c.drop(map[string]string{"empty.xy": ""})
	assert.Contains(t, text, "is empty")
	after, err := os.ReadDir(filepath.Join(o.Keep, "dropped"))
	require.NoError(t, err)
	assert.Len(t, after, len(before)+1)
	status, _, _ := c.do("POST", "/drop", "no form", "Origin", c.base)
	assert.Equal(t, 422, status)
}

func TestKeptChoicesThatCannotBeRead(t *testing.T) {
	for name, text := range map[string]string{"no JSON": "{", "another schema": `{"schema":"x"}`, "choices that do not follow": `{"schema":"phasetally.choices/1","scans":[{"scan":"a.xy","at":4}]}`,
		"a scan that is none": `{"schema":"phasetally.choices/1","scans":[null]}`} {
		o := options(t)
		require.NoError(t, os.MkdirAll(o.Keep, 0o755))
		require.NoError(t, os.WriteFile(filepath.Join(o.Keep, "choices.json"), []byte(text), 0o600))
		_, err := page.New(t.Context(), o)
		require.ErrorIs(t, err, page.ErrKept, name)
		assert.Contains(t, err.Error(), "move it away", name)
	}
}
