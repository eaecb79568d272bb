package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/browsertest"
)

// served is the program with its page.
type served struct {
	address string
	stop    func() (code int, stderr string)
}

// serve runs open, as a user would, until it is stopped.
func serve(t *testing.T, args ...string) *served {
	t.Helper()
	return serveWith(t, append([]string{"open", "--no-browser"}, args...)...)
}

// serveWith runs a command that prints the address of a page.
func serveWith(t *testing.T, args ...string) *served {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	var errs strings.Builder
	code := make(chan int, 1)
	go func() {
		c := run(ctx, args, strings.NewReader(""), in, &errs)
		in.CloseWithError(io.EOF)
		code <- c
	}()
	s := &served{}
	once := sync.OnceValues(func() (int, string) { cancel(); return <-code, errs.String() })
	s.stop = once
	t.Cleanup(func() { once() })
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		c, e := once()
		require.Fail(t, "the page did not open", "status %d: %s", c, e)
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
	s.address = strings.TrimSpace(line)
	return s
}

// A tab is a tab of a real browser, with all that went wrong in it and all that it asked of anybody.
type tab struct {
	browsertest.Record
	ctx context.Context
}

// newTab opens a tab of a browser, of the first one when that has none yet.
func newTab(t *testing.T, browser context.Context, first bool) *tab {
	t.Helper()
	ctx := browser
	if !first {
		var cancel context.CancelFunc
		ctx, cancel = chromedp.NewContext(browser)
		t.Cleanup(cancel)
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	}
	b := &tab{}
	b.Watch(t, ctx)
	var cancel context.CancelFunc
	b.ctx, cancel = context.WithTimeout(ctx, 10*time.Minute)
	t.Cleanup(cancel)
	return b
}

func (b *tab) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	require.NoError(t, chromedp.Do(b.ctx, actions...))
}

// eval runs a script and gives its value as text.
func (b *tab) eval(t *testing.T, script string) string {
	t.Helper()
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("String("+script+")"))
	require.NoError(t, err, script)
	return out
}

// wait waits until a script is true.
func (b *tab) wait(t *testing.T, script string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 3*time.Minute)
	defer cancel()
	for b.eval(t, script) != "true" {
		select {
		case <-ctx.Done():
			require.Fail(t, "the page never came to it", "%s\n%s", script, b.eval(t, `document.getElementById("trouble").textContent + " | " + document.getElementById("sentence").textContent + " | " + document.getElementById("command").textContent`))
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// settled waits until the answer is that of the latest choice and is drawn.
func (b *tab) settled(t *testing.T) {
	t.Helper()
	b.wait(t, `document.body.dataset.settled === "true" && document.getElementById("plot").dataset.answer === document.body.dataset.answer`)
}

// after does something that changes the answer, and waits until that is settled.
func (b *tab) after(t *testing.T, change func()) {
	t.Helper()
	was := b.eval(t, `document.body.dataset.revision`)
	change()
	b.wait(t, `+document.body.dataset.revision > `+was)
	b.settled(t)
}

// openPage shows the page of a program.
func (b *tab) openPage(t *testing.T, s *served) {
	t.Helper()
	b.do(t, chromedp.Navigate(s.address), chromedp.WaitVisible("#sentence"))
}

// shot leaves a picture of the whole page for people to look at when the tests run with -artifacts.
func (b *tab) shot(t *testing.T, name string, width int64) {
	t.Helper()
	b.do(t, chromedp.EmulateViewport(width, 900), chromedp.Sleep(200*time.Millisecond))
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(t.ArtifactDir(), name), png, 0o600))
}

// picture leaves a picture of the top of the page, as the README shows it.
func (b *tab) picture(t *testing.T, name string) {
	t.Helper()
	b.do(t, chromedp.EmulateViewport(1280, 1800))
	b.eval(t, `scrollTo({top: 0, behavior: "instant"})`)
	b.do(t, chromedp.Sleep(300*time.Millisecond))
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(t.ArtifactDir(), name), png, 0o600))
	b.do(t, chromedp.EmulateViewport(1280, 900))
}

// weights lists what the page says of each phase that is part of the fit.
func (b *tab) weights(t *testing.T) string {
	return b.eval(t, `[...document.querySelectorAll("#claim-list > li:not(.off)")].map(l => l.dataset.phase + "=" + l.dataset.weight + " (" + l.dataset.interval + ")").join("; ")`)
}

// place gives the position of an angle on the pattern.
func (b *tab) place(t *testing.T, angle float64) (x, y float64) {
	t.Helper()
	b.eval(t, `document.getElementById("plot").scrollIntoView({behavior: "instant", block: "center"})`)
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => { const c = document.getElementById("plot"), r = c.getBoundingClientRect(), lo = +c.dataset.lo, hi = +c.dataset.hi;
		const a = +c.dataset.left, b = +c.dataset.right;
		return [r.left + c.clientLeft + a + (%g - lo)/(hi - lo)*(b - a), r.top + 120]; })()`, angle)))
	require.NoError(t, err)
	return out[0], out[1]
}

// click presses the pointer on the middle of an element that a person could see there.
func (b *tab) click(t *testing.T, selector string) {
	t.Helper()
	b.wait(t, fmt.Sprintf(`document.querySelector(%q) !== null && !document.querySelector(%q).disabled`, selector, selector))
	var out, was []float64
	for len(was) == 0 || !slices.Equal(out, was) { // what still moves would be missed
		was = out
		var err error
		out, err = chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e) return [0, 0, 0]; e.scrollIntoView({behavior: "instant", block: "center"}); const r = e.getBoundingClientRect(), x = r.left + r.width / 2, y = r.top + r.height / 2;
			const hit = document.elementFromPoint(x, y); return [x, y, hit && (hit === e || e.contains(hit) || hit.contains(e)) ? 1 : 0]; })()`, selector)))
		require.NoError(t, err, selector)
		time.Sleep(20 * time.Millisecond)
	}
	require.Equal(t, 1.0, out[2], "%s is covered or not on the screen", selector)
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, out[0], out[1], chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, out[0], out[1], chromedp.ButtonLeft, chromedp.ClickCount(1)))
}

// drag moves the pressed pointer from one angle to another; a click where they are the same.
func (b *tab) drag(t *testing.T, from, to float64) {
	t.Helper()
	x1, y := b.place(t, from)
	x2, _ := b.place(t, to)
	b.do(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x1, y, chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x2, y, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x2, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
}

// clean asserts that nothing went wrong in the tab, and that it asked nothing of anybody but the page.
func (b *tab) clean(t *testing.T, s *served) {
	t.Helper()
	b.Mu.Lock()
	defer b.Mu.Unlock()
	assert.Empty(t, b.Errors)
	require.NotEmpty(t, b.Requests)
	own := s.address[:strings.Index(s.address, "/?")+1]
	for _, url := range b.Requests {
		assert.True(t, strings.HasPrefix(url, own) || strings.HasPrefix(url, "data:") || strings.HasPrefix(url, "blob:") || url == "about:blank", "a request left the page: %s", url)
	}
}

// contrastScript lists texts whose WCAG contrast with the nearest painted background is below 4.5.
const contrastScript = `(() => {
const lin = v => (v /= 255) <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4;
const lum = ([r, g, b]) => .2126 * lin(r) + .7152 * lin(g) + .0722 * lin(b);
const rgba = s => (s.match(/[\d.]+/g) || []).map(Number);
const bad = new Set();
for (const e of document.querySelectorAll("body *")) {
  if (e.closest("svg,script,canvas") || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) || !e.getClientRects().length) continue;
  let p = e, bg = null;
  for (; p; p = p.parentElement) { const c = rgba(getComputedStyle(p).backgroundColor); if (c.length === 3 || c[3] === 1) { bg = c; break; } }
  const a = lum(rgba(getComputedStyle(e).color)), b = lum(bg), ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
  if (ratio < 4.5 && !e.disabled && !e.closest(":disabled")) bad.add(e.tagName + "." + e.className + " " + ratio.toFixed(2));
}
return [...bad].join("; ");
})()`
