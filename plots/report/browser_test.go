package report_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/browsertest"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// A browser is a tab of a real Chromium that records what goes wrong and what leaves the page.
type browser struct {
	browsertest.Record
	ctx context.Context
}

func openBrowser(t *testing.T) *browser {
	t.Helper()
	ctx := browsertest.Start(t)
	b := &browser{}
	b.Watch(t, ctx)
	var cancel context.CancelFunc
	b.ctx, cancel = context.WithTimeout(ctx, 5*time.Minute)
	t.Cleanup(cancel)
	return b
}

func (b *browser) run(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	require.NoError(t, chromedp.Do(b.ctx, actions...))
}

func (b *browser) eval(t *testing.T, script string) string {
	t.Helper()
	return get(t, b, chromedp.Evaluate[string]("String("+script+")"))
}

func get[T any](t *testing.T, b *browser, a chromedp.Action[T]) T {
	t.Helper()
	out, err := chromedp.Run(b.ctx, a)
	require.NoError(t, err)
	return out
}

// show opens the report of a result from a file, as a user would.
func (b *browser) show(t *testing.T, r result.Analysis) {
	t.Helper()
	html, err := report.HTML(r, report.Options{})
	require.NoError(t, err)
	name := filepath.Join(t.TempDir(), "report.html")
	require.NoError(t, os.WriteFile(name, html, 0o600))
	b.run(t, chromedp.Navigate("file://"+name), chromedp.WaitVisible("#plot"))
	b.until(t, `document.readyState === "complete"`)
}

// until waits for a script to be true, as long as the machine may take for it.
func (b *browser) until(t *testing.T, script string) {
	t.Helper()
	require.True(t, get(t, b, chromedp.Poll[bool](script, chromedp.WithPollingTimeout(4*time.Minute))), script)
}

// quiet waits for a number of requests of the page to be told, and wants no error and no more of them.
func (b *browser) quiet(t *testing.T, requests int) {
	t.Helper()
	b.until(t, `document.readyState === "complete"`) // what was told before the answer has arrived
	b.Mu.Lock()
	defer b.Mu.Unlock()
	assert.Empty(t, b.Errors)
	assert.Len(t, b.Requests, requests, "nothing but the page itself")
}

// pixels gives a value that changes when the drawing does.
func (b *browser) pixels(t *testing.T) string {
	return b.eval(t, `document.getElementById("plot").toDataURL()`)
}

// place gives the page position of an angle on the plot at a height of the main panel.
func (b *browser) place(t *testing.T, angle float64) (x, y float64) {
	t.Helper()
	out := get(t, b, chromedp.Evaluate[[]float64](fmt.Sprintf(`(() => { const c = document.getElementById("plot"), r = c.getBoundingClientRect(), lo = +c.dataset.lo, hi = +c.dataset.hi;
		const a = +c.dataset.left, b = +c.dataset.right;
		return [r.left + c.clientLeft + a + (%g - lo)/(hi - lo)*(b - a), r.top + 120]; })()`, angle)))
	return out[0], out[1]
}

func (b *browser) span(t *testing.T) (lo, hi float64) {
	_, err := fmt.Sscan(b.eval(t, `(c => c.dataset.lo + " " + c.dataset.hi)(document.getElementById("plot"))`), &lo, &hi)
	require.NoError(t, err)
	return lo, hi
}

func TestReportInChromium(t *testing.T) {
	b := openBrowser(t)
	r := resulttest.Mixture(1)
	r.Document.Phases[0].Formula = "Bi2Sr2Ca0.9Y0.1Cu2O8" // wide enough to push numbers off a phone
	b.show(t, r)
	b.eval(t, `document.getElementById("plot").scrollIntoView({behavior: "instant", block: "center"})`)
	b.until(t, `document.getElementById("plot").dataset.hi !== undefined`)

	t.Run("hover tells angle, spacing, phase and indices", func(t *testing.T) {
		x, y := b.place(t, 35.15)
		b.run(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x, y))
		b.until(t, `document.getElementById("readout").textContent !== ""`)
		got := b.eval(t, `document.getElementById("readout").textContent`)
		for _, want := range []string{"2θ 35.", "d 2.5", "observed", "σ", "corundum", "1 0 4"} {
			assert.Contains(t, got, want)
		}
	})
	t.Run("drag zooms, reset goes back", func(t *testing.T) {
		x1, y := b.place(t, 30)
		x2, _ := b.place(t, 40)
		b.run(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x1, y, chromedp.ButtonLeft, chromedp.ClickCount(1)),
			chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x2, y, chromedp.ButtonLeft),
			chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x2, y, chromedp.ButtonLeft, chromedp.ClickCount(1)))
		lo, hi := b.span(t)
		assert.InDelta(t, 30, lo, 0.3)
		assert.InDelta(t, 40, hi, 0.3)
		b.run(t, chromedp.Click("#reset"))
		lo, hi = b.span(t)
		assert.Equal(t, []float64{5, 150}, []float64{lo, hi})
	})
	t.Run("wheel zooms about the pointer once in focus", func(t *testing.T) {
		b.run(t, chromedp.Focus("#plot"))
		x, y := b.place(t, 47)
		b.run(t, chromedp.MouseEvent(input.DispatchMouseEventTypeMouseWheel, x, y, func(p *input.DispatchMouseEventParams) { p.DeltaX, p.DeltaY = 1e-9, -100 }))
		b.until(t, `+document.getElementById("plot").dataset.hi < 149`)
		lo, hi := b.span(t)
		assert.Less(t, hi-lo, 140.0)
		assert.InDelta(t, (47-5.0)/145, (47-lo)/(hi-lo), 0.02, "the angle under the pointer stays")
	})
	t.Run("keys zoom, move, step through lines, reset", func(t *testing.T) {
		b.run(t, chromedp.Focus("#plot"), chromedp.KeyEvent("0"), chromedp.KeyEvent("+"), chromedp.KeyEvent("+"))
		lo, hi := b.span(t)
		assert.InDelta(t, 0.64*145, hi-lo, 0.1)
		b.run(t, chromedp.KeyEvent("0"), chromedp.KeyEvent("n"), chromedp.KeyEvent("n"))
		assert.Contains(t, b.eval(t, `document.getElementById("readout").textContent`), "1 1 1")
		assert.Equal(t, "polite", b.eval(t, `document.getElementById("readout").getAttribute("aria-live")`))
	})
	t.Run("toggling a phase and the scale change the drawing", func(t *testing.T) {
		before := b.pixels(t)
		b.run(t, chromedp.Click(`input[data-phase="1"]`))
		without := b.pixels(t)
		assert.NotEqual(t, before, without)
		b.run(t, chromedp.Click(`input[data-phase="1"]`))
		assert.Equal(t, before, b.pixels(t), "and back")
		b.run(t, chromedp.Click(`input[value="linear"]`))
		assert.NotEqual(t, before, b.pixels(t))
	})
	t.Run("peak table sorts and filters", func(t *testing.T) {
		first := `document.querySelector("#peak-table tbody tr").cells[2].textContent`
		b.run(t, chromedp.Click("#peak-table thead th:nth-child(3) button"))
		low := b.eval(t, first)
		b.run(t, chromedp.Click("#peak-table thead th:nth-child(3) button"))
		assert.NotEqual(t, low, b.eval(t, first))
		assert.Equal(t, "descending", b.eval(t, `document.querySelector("#peak-table thead th:nth-child(3)").getAttribute("aria-sort")`))
		b.run(t, chromedp.SendKeys("#peak-filter", "zincite"))
		assert.Equal(t, "0", b.eval(t, `[...document.querySelectorAll("#peak-table tbody tr")].filter(r => !r.hidden && !r.textContent.includes("zincite")).length`))
		assert.NotEqual(t, "0", b.eval(t, `[...document.querySelectorAll("#peak-table tbody tr")].filter(r => !r.hidden).length`))
	})
	t.Run("a screen reader finds its way", func(t *testing.T) {
		for script, want := range map[string]string{
			`document.querySelectorAll("h1").length`:                                                                                                                                  "1",
			`[...document.querySelectorAll("thead th")].filter(h => h.scope !== "col").length`:                                                                                        "0",
			`[...document.querySelectorAll("tbody th")].filter(h => h.scope !== "row").length`:                                                                                        "0",
			`[...document.querySelectorAll("table")].filter(x => !x.caption).length`:                                                                                                  "0",
			`[...document.querySelectorAll("svg")].filter(x => !x.getAttribute("aria-label")).length`:                                                                                 "0",
			`[...document.querySelectorAll("input")].filter(x => !x.labels.length).length`:                                                                                            "0",
			`[...document.querySelectorAll("[id]")].length - new Set([...document.querySelectorAll("[id]")].map(x => x.id)).size`:                                                     "0",
			`document.documentElement.lang`:                                                                                                                                           "en",
			`(() => { let last = 0, bad = 0; for (const h of document.querySelectorAll("h1,h2,h3")) { const l = +h.tagName[1]; if (l > last + 1) bad++; last = l; } return bad; })()`: "0",
		} {
			assert.Equal(t, want, b.eval(t, script), script)
		}
	})
	t.Run("text contrast is AA", func(t *testing.T) { assert.Equal(t, "", b.eval(t, contrastScript)) })
	t.Run("paper has everything", func(t *testing.T) {
		pdf := get(t, b, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4), chromedp.PDFPrintBackground(), chromedp.PDFPreferCSSPageSize()))
		require.True(t, strings.HasPrefix(string(pdf), "%PDF"))
		pages := strings.Count(string(pdf), "/Type /Page\n")
		assert.Greater(t, pages, 2)
		assert.LessOrEqual(t, pages, 6)
		keep(t, "report.pdf", pdf)
	})
	t.Run("no width overflows", func(t *testing.T) {
		for _, width := range []int64{1280, 768, 390} {
			b.eval(t, `delete document.body.dataset.drawn`)
			b.run(t, chromedp.EmulateViewport(width, 900))
			b.until(t, fmt.Sprintf(`innerWidth === %d && (requestAnimationFrame(() => requestAnimationFrame(() => document.body.dataset.drawn = innerWidth)), +document.body.dataset.drawn === %d)`, width, width))
			shot := get(t, b, chromedp.FullScreenshot(100))
			assert.Equal(t, fmt.Sprint(width), b.eval(t, `document.documentElement.scrollWidth`))
			keep(t, fmt.Sprintf("report-%d.png", width), shot)
			for _, column := range []string{"wt%", "95 %"} {
				right := get(t, b, chromedp.Evaluate[float64](fmt.Sprintf(`[...document.querySelectorAll("#fractions thead th")].find(h => h.textContent === %q).getBoundingClientRect().right`, column)))
				assert.LessOrEqual(t, right, float64(width), "%s is on the screen", column)
			}
		}
	})
	b.quiet(t, 1)
}

// contrastScript lists texts whose WCAG contrast with the nearest painted background is below 4.5.
const contrastScript = `(() => {
const lin = v => (v /= 255) <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4;
const lum = ([r, g, b]) => .2126 * lin(r) + .7152 * lin(g) + .0722 * lin(b);
const rgba = s => (s.match(/[\d.]+/g) || []).map(Number);
const bad = new Set();
for (const e of document.querySelectorAll("body *")) {
  if (e.closest("svg,script,canvas") || ![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) || !e.getClientRects().length) continue;
  let p = e, bg = [255, 255, 255];
  for (; p; p = p.parentElement) { const c = rgba(getComputedStyle(p).backgroundColor); if (c.length === 3 || c[3] === 1) { bg = c; break; } }
  const a = lum(rgba(getComputedStyle(e).color)), b = lum(bg), ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
  if (ratio < 4.5) bad.add(e.tagName + "." + e.className + " " + ratio.toFixed(2));
}
return [...bad].join("; ");
})()`

// keep leaves a picture for people to look at when the tests run with -artifacts.
func keep(t *testing.T, name string, data []byte) {
	t.Helper()
	require.NoError(t, os.WriteFile(filepath.Join(t.ArtifactDir(), name), data, 0o600))
}

func TestHostileTextInChromium(t *testing.T) {
	b := openBrowser(t)
	b.show(t, hostile())
	b.until(t, `document.querySelectorAll("#toggles input").length >= 3`)
	assert.NotContains(t, b.eval(t, `document.title`), "owned\x00")
	assert.True(t, strings.HasPrefix(b.eval(t, `document.title`), "Phases in "))
	assert.Equal(t, "0", b.eval(t, `document.querySelectorAll("img").length`))
	assert.Equal(t, "3", b.eval(t, `document.querySelectorAll("#toggles input").length`))
	b.quiet(t, 1)
}

func TestManyAndNoneInChromium(t *testing.T) {
	b := openBrowser(t)
	for _, r := range []result.Analysis{resulttest.Many(40), resulttest.Empty()} {
		b.show(t, r)
		assert.NotEmpty(t, b.pixels(t))
	}
	b.quiet(t, 2)
}

// The figure of a page stays fluid: a step of a zoom into 150,000 points with twenty phases takes at most 50 ms on a quiet machine;
// a busy one is allowed four times that.
func TestFigureOfALongScanInChromium(t *testing.T) {
	b := openBrowser(t)
	r := long(150_000, 20)
	curves, err := report.Curves(r, report.View{Most: 20_000})
	require.NoError(t, err)
	page := `<!doctype html><link rel="icon" href="data:,"><canvas id="plot" tabindex="0" style="width:1280px;height:600px"></canvas><p id="readout"></p><script>` + report.FigureScript +
		`</script><script>const f = patternFigure(document.getElementById("plot"), document.getElementById("readout")); f.load(` + string(curves) + `); f.draw();</script>`
	name := filepath.Join(t.TempDir(), "long.html")
	require.NoError(t, os.WriteFile(name, []byte(page), 0o600))
	b.run(t, chromedp.Navigate("file://"+name), chromedp.WaitVisible("#plot"))
	steps := get(t, b, chromedp.Evaluate[[]float64](`(() => { const out = [];
		for (let i = 0; i < 60; i++) { const t = performance.now(); f.scaleBy(i % 20 < 10 ? .8 : 1.25, 60); out.push(performance.now() - t); }
		return out.sort((a, b) => a - b); })()`))
	require.Len(t, steps, 60)
	t.Logf("a step of a zoom: median %.1f ms, 95 %% below %.1f ms", steps[30], steps[57])
	assert.Less(t, steps[30], 200.0)
	assert.Less(t, len(curves), 8<<20, "bytes that travel")
	b.Mu.Lock()
	defer b.Mu.Unlock()
	assert.Empty(t, b.Errors)
}

// long is a scan of many points and phases, each with lines of its own.
func long(points, phases int) result.Analysis {
	column := func() []float64 { return make([]float64, points) }
	r := result.Analysis{Document: resulttest.Many(phases).Document, Curves: result.Curves{TwoTheta: column(), Observed: column(), Sigma: column(), Calculated: column(), Background: column()}}
	c := &r.Curves
	for i := range points {
		c.TwoTheta[i] = 5 + 145*float64(i)/float64(points)
		c.Background[i] = 50
		c.Calculated[i] = 50
	}
	for k := range phases {
		share := column()
		for line := range 60 {
			at := (k*7919 + line*104729) % points
			for i := max(0, at-200); i < min(points, at+200); i++ {
				x := float64(i-at) / 40
				share[i] += 1000 / (1 + x*x)
			}
		}
		for i, v := range share {
			c.Calculated[i] += v
		}
		c.Phases = append(c.Phases, share)
	}
	for i, v := range c.Calculated {
		c.Sigma[i] = math.Sqrt(v)
		c.Observed[i] = v + c.Sigma[i]*math.Sin(float64(i)) // stands for noise
	}
	return r
}
