package main

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/browsertest"
	"phasetally/plots/report"
	"phasetally/xrd/result"
	"phasetally/xrd/xrdtest"
)

// fractionsOf runs quantify and returns its table and what a page would show of its answer.
func fractionsOf(t *testing.T, scan string, phases string) (csv string, shown []report.Claim) {
	t.Helper()
	code, csv, stderr := within(t, t.Context(), "quantify", scan, "--phase", phases, "--format", "csv")
	require.Contains(t, []int{exitDone, exitNeedsHuman}, code, stderr)
	_, raw, _ := within(t, t.Context(), "quantify", scan, "--phase", phases, "--format", "json")
	var doc result.Document
	require.NoError(t, json.Unmarshal([]byte(raw), &doc))
	return csv, report.AnswerOf(doc).Claims
}

func weightsOf(claims []report.Claim) string {
	var parts []string
	for _, c := range claims {
		parts = append(parts, c.ID+"="+c.Weight+" ("+c.Interval+")")
	}
	return strings.Join(parts, "; ")
}

func (b *tab) command(t *testing.T) string {
	return b.eval(t, `document.getElementById("command").textContent`)
}

func (b *tab) trouble(t *testing.T) string {
	return b.eval(t, `document.getElementById("trouble").hidden ? "" : document.getElementById("trouble").textContent`)
}

// save writes the result folder by the button and returns its document without times.
func (b *tab) save(t *testing.T, folder string) result.Document {
	t.Helper()
	b.click(t, "#save")
	b.wait(t, `document.getElementById("saved").textContent.startsWith("Written") || !document.getElementById("replace").hidden`)
	if b.eval(t, `document.getElementById("replace").hidden`) == "false" {
		b.click(t, "#replace")
		b.wait(t, `document.getElementById("saved").textContent.startsWith("Written")`)
	}
	raw, err := os.ReadFile(filepath.Join(folder, "analysis.json"))
	require.NoError(t, err)
	var doc result.Document
	require.NoError(t, json.Unmarshal(raw, &doc))
	require.NotNil(t, doc.Provenance.Started)
	require.NotNil(t, doc.Provenance.ElapsedS)
	doc.Provenance.Started, doc.Provenance.ElapsedS = nil, nil
	return doc
}

func TestPageInChromium(t *testing.T) {
	xrdtest.Long(t, "TestPageByKeyboard")
	scan := demo(t)
	t.Chdir(t.TempDir())
	s := serve(t, scan, "--elements", "Cu,Sn")
	browser := browsertest.Start(t)
	b := newTab(t, browser, true)
	b.openPage(t, s)
	b.settled(t)
	folder := "bushing-aged-phases"
	firstWeights, firstSentence := b.weights(t), b.eval(t, `document.getElementById("sentence").textContent`)
	first := b.save(t, folder)

	t.Run("the key is not left in the address", func(t *testing.T) {
		assert.NotContains(t, b.eval(t, `location.href`), "key")
		assert.NotContains(t, b.eval(t, `document.cookie`), "phasetally", "no script reads the key")
	})
	t.Run("off and on give the numbers of quantify", func(t *testing.T) {
		b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
		_, want := fractionsOf(t, scan, "bronze-alpha,cu6sn5-eta,cu3sn-epsilon")
		assert.Equal(t, weightsOf(want), b.weights(t))
		assert.Contains(t, b.eval(t, `document.querySelector("#claim-list > li.off").textContent`), "cuprite")
		assert.NotEmpty(t, b.eval(t, `[...document.querySelectorAll("#claim-list del")].map(d => d.textContent).join()`), "old values stand beside the new")
		b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
		csv, want := fractionsOf(t, scan, "bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite")
		assert.Equal(t, weightsOf(want), b.weights(t))
		saved := b.save(t, folder)
		assert.Equal(t, []string{"cuprite left out of the fit", "cuprite taken into the fit"}, saved.Choices)
		written, err := os.ReadFile(filepath.Join(folder, "fractions.csv"))
		require.NoError(t, err)
		assert.Equal(t, csv, string(written), "to the last digit")
		html, err := os.ReadFile(filepath.Join(folder, "report.html"))
		require.NoError(t, err)
		assert.True(t, strings.Contains(string(html), "Chosen by hand while looking at the fit: cuprite left out of the fit; cuprite taken into the fit."))
	})
	t.Run("undo to the start gives the first answer", func(t *testing.T) {
		for b.eval(t, `document.getElementById("undo").disabled`) == "false" {
			b.after(t, func() { b.click(t, "#undo") })
		}
		assert.Equal(t, firstWeights, b.weights(t))
		assert.Equal(t, firstSentence, b.eval(t, `document.getElementById("sentence").textContent`))
		assert.Equal(t, first, b.save(t, folder), "every number of the document")
	})
	t.Run("a click on a peak names candidates, and one is taken", func(t *testing.T) {
		b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
		b.drag(t, 36.43, 36.43)
		b.wait(t, `document.querySelectorAll("#ask-card li").length > 0`)
		assert.Contains(t, b.eval(t, `document.querySelector("#ask-card li").textContent`), "cuprite")
		assert.Contains(t, b.eval(t, `document.querySelector("#ask-card li").textContent`), "What decides")
		before := b.eval(t, `document.getElementById("plot").toDataURL()`)
		b.click(t, `[data-preview="cuprite"]`)
		b.wait(t, `document.getElementById("plot").dataset.preview === "cuprite"`)
		assert.NotEqual(t, before, b.eval(t, `document.getElementById("plot").toDataURL()`), "it lies over the pattern")
		assert.NotContains(t, b.command(t), "cuprite", "and is not taken yet")
		b.picture(t, "page-readme.png")
		b.after(t, func() { b.click(t, `[data-take="cuprite"]`) })
		assert.Contains(t, b.command(t), "cu3sn-epsilon,cuprite")
	})
	t.Run("a drag leaves a range out, a button takes it back", func(t *testing.T) {
		b.click(t, `input[name=drag][value=mask]`)
		b.after(t, func() { b.drag(t, 60, 64) })
		assert.Regexp(t, `--mask (59|60)\.?\d*:(63|64)\.?\d* `, b.command(t))
		b.after(t, func() { b.click(t, "#left-out-items button") })
		assert.NotContains(t, b.command(t), "--mask")
		b.click(t, `input[name=drag][value=zoom]`)
		b.drag(t, 30, 40)
		b.wait(t, `+document.getElementById("plot").dataset.hi < 41`)
		b.click(t, "#whole")
	})
	t.Run("the last phase cannot be left out; everything stays", func(t *testing.T) {
		for _, id := range []string{"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon"} {
			b.after(t, func() { b.click(t, `[data-key="on-`+id+`"]`) })
		}
		was := b.weights(t)
		b.click(t, `[data-key="on-cuprite"]`)
		b.wait(t, `!document.getElementById("trouble").hidden`)
		assert.Contains(t, b.trouble(t), "no phase would be left")
		assert.Equal(t, was, b.weights(t))
		assert.Equal(t, "true", b.eval(t, `document.querySelector('[data-key="on-cuprite"]').checked`))
	})
	t.Run("a wrong setting is told and taken back", func(t *testing.T) {
		b.eval(t, `document.querySelector('[data-group="Tube and diffractometer"]').open = true`)
		was := b.command(t)
		b.eval(t, `(document.getElementById("field-slit").value = "wide", document.getElementById("field-slit").dispatchEvent(new Event("input", {bubbles: true})))`)
		b.click(t, `[data-group="Tube and diffractometer"] button:not([type=reset])`)
		b.wait(t, `!document.getElementById("trouble").hidden`)
		assert.Contains(t, b.trouble(t), "--slit")
		b.wait(t, `document.body.dataset.settled === "true"`)
		assert.Equal(t, was, b.command(t))
	})
	t.Run("another tube brings a stop and the way back", func(t *testing.T) {
		b.after(t, func() { b.click(t, "#log li:first-child button") })
		b.eval(t, `(document.getElementById("field-slit").value = "", document.getElementById("field-radiation").value = "Co", document.getElementById("field-radiation").dispatchEvent(new Event("input", {bubbles: true})))`)
		b.after(t, func() { b.click(t, `[data-group="Tube and diffractometer"] button:not([type=reset])`) })
		assert.Contains(t, b.command(t), "--radiation Co")
		assert.Equal(t, "false", b.eval(t, `document.getElementById("stops").hidden`))
		assert.Regexp(t, `^Stop: The scan contradicts its tube: .*\.$`, b.eval(t, `document.querySelector("#doubts-brief li").textContent`))
		assert.Equal(t, "true", b.eval(t, `document.querySelector("#doubts-brief li").getBoundingClientRect().height > 10`), "without unfolding")
		b.eval(t, `document.getElementById("doubts").open = false`)
		b.click(t, `[data-key="doubts"]`)
		assert.Equal(t, "true", b.eval(t, `document.getElementById("doubts").open`), "what to do is one click away")
		b.after(t, func() { b.click(t, "#undo") })
		assert.Equal(t, firstWeights, b.weights(t))
	})
	t.Run("the collection is found by name, formula, synonym and elements", func(t *testing.T) {
		b.eval(t, `document.getElementById("collection").open = true`)
		for _, words := range []string{"cupri", "Cu2O", "copper(I) oxide"} {
			b.eval(t, fmt.Sprintf(`(document.getElementById("find-words").value = %q, document.getElementById("find-words").dispatchEvent(new Event("input")))`, words))
			b.wait(t, `document.querySelector("#find-list [data-take='cuprite']") !== null && document.querySelectorAll("#find-list li").length < 10`)
		}
		b.eval(t, `(document.getElementById("find-words").value = "", document.getElementById("table").open = true)`)
		b.click(t, `[data-element="Cu"]`)
		b.click(t, `[data-element="O"]`)
		b.wait(t, `document.querySelector("#find-list [data-take='tenorite']") !== null && document.querySelector("#find-list [data-take='cu6sn5-eta']") === null`)
		b.click(t, "#elements-clear")
	})
	t.Run("two states stand side by side", func(t *testing.T) {
		b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
		b.click(t, "#compare-form button")
		b.wait(t, `document.querySelectorAll("#compare-rows tr").length === 4 && +document.getElementById("plot-b").dataset.hi > 0`)
		assert.Regexp(t, `[+-]\d`, b.eval(t, `document.querySelector("#compare-rows tr").cells[4].textContent`), "z of the bronze")
		assert.Equal(t, "–", b.eval(t, `document.querySelector("#compare-rows tr:nth-child(4)").cells[4].textContent`), "the cuprite is in one only")
	})
	t.Run("a second tab shows the same and follows", func(t *testing.T) {
		other := newTab(t, browser, false)
		other.do(t, chromedp.Navigate(s.address[:strings.Index(s.address, "?")]), chromedp.WaitVisible("#sentence"))
		other.settled(t)
		assert.Equal(t, b.weights(t), other.weights(t))
		assert.Equal(t, b.command(t), other.command(t))
		b.after(t, func() { b.click(t, "#undo") })
		other.wait(t, fmt.Sprintf(`document.getElementById("command").textContent === %q`, b.command(t)))
		other.settled(t)
		assert.Equal(t, b.weights(t), other.weights(t))
		other.clean(t, s)
	})
	t.Run("what is taken away", func(t *testing.T) {
		for _, format := range []string{"svg", "png"} {
			size := b.eval(t, `fetch(document.getElementById("figure-`+format+`").href).then(r => r.ok ? r.blob() : null).then(v => document.body.dataset.`+format+` = v ? v.type + v.size : "none")`)
			_ = size
			b.wait(t, `document.body.dataset.`+format+` !== undefined`)
			assert.Contains(t, b.eval(t, `document.body.dataset.`+format), format)
		}
		b.eval(t, `(document.getElementById("figure-width").value = "mm", document.getElementById("figure-mm").value = "99,5", document.getElementById("figure-width").dispatchEvent(new Event("input", {bubbles: true})))`)
		assert.Contains(t, b.eval(t, `document.getElementById("figure-svg").href`), "width=99.5")
		b.eval(t, `(document.getElementById("figure-mm").value = "20", document.getElementById("figure-mm").dispatchEvent(new Event("input", {bubbles: true})))`)
		assert.Equal(t, "false Give 60 to 400 mm.", b.eval(t, `document.getElementById("figure-svg").hasAttribute("href") + " " + document.getElementById("figure-trouble").textContent`))
		b.eval(t, `(navigator.clipboard.write = items => items[0].getType("text/html").then(v => v.text()).then(h => items[0].getType("text/plain").then(v => v.text()).then(p => { document.body.dataset.copied = p + "|" + h; })), 1)`)
		b.click(t, "#copy-table")
		b.wait(t, `document.body.dataset.copied !== undefined`)
		copied := b.eval(t, `document.body.dataset.copied`)
		assert.Contains(t, copied, "Phase\tFormula\twt%\t95 %")
		assert.Contains(t, copied, "<table><tbody><tr><th>Phase</th>")
		assert.Contains(t, copied, "cuprite\tCu2O")
	})
	t.Run("another page cannot reach it", func(t *testing.T) {
		was := b.command(t)
		foreign := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			fmt.Fprint(w, `<!doctype html><link rel="icon" href="data:,"><title>elsewhere</title>`)
		}))
		defer foreign.Close()
		other := newTab(t, browser, false)
		other.do(t, chromedp.Navigate(foreign.URL)) // the same host, another port: the browser sends our cookie along
		own := s.address[:strings.Index(s.address, "?")]
		other.eval(t, fmt.Sprintf(`(Promise.allSettled([
			fetch(%[1]q + "redo", {method: "POST", mode: "no-cors", credentials: "include", body: "{}"}),
			fetch(%[1]q + "state", {credentials: "include"}).then(r => r.text()),
			new Promise((_, no) => { const e = document.createElement("script"); e.src = %[1]q + "page.js"; e.onerror = no; e.onload = () => no("loaded"); document.head.append(e); }),
		]).then(r => { document.title = r.map(x => x.status === "fulfilled" ? "ok " + (x.value.type || x.value) : "refused " + x.reason).join("; "); }), 1)`, own))
		other.wait(t, `document.title !== "elsewhere"`)
		title := other.eval(t, `document.title`)
		assert.NotContains(t, title, "loaded")
		assert.NotContains(t, title, "revision", "nothing can be read")
		time.Sleep(200 * time.Millisecond)
		assert.Equal(t, was, b.command(t), "and nothing changed")
	})
	t.Run("no width overflows, texts have contrast, light and dark", func(t *testing.T) {
		b.eval(t, `[...document.querySelectorAll("details")].forEach(d => d.open = true)`)
		for _, scheme := range []string{"light", "dark"} {
			_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
			require.NoError(t, err)
			for _, width := range []int64{2560, 1280, 768, 390} {
				b.shot(t, fmt.Sprintf("page-open-%s-%d.png", scheme, width), width)
				assert.Equal(t, strconv.FormatInt(width, 10), b.eval(t, `document.documentElement.scrollWidth`), scheme)
				for _, id := range []string{"undo", "plot", "save", "claim-list"} {
					right := b.eval(t, `document.getElementById("`+id+`").getBoundingClientRect().right <= innerWidth`)
					assert.Equal(t, "true", right, "%s at %d", id, width)
				}
			}
			assert.Equal(t, "", b.eval(t, contrastScript), scheme)
		}
	})
	t.Run("a screen reader finds its way", func(t *testing.T) {
		for script, want := range map[string]string{
			`document.querySelectorAll("h1").length`: "1",
			`[...document.querySelectorAll("input, select, textarea")].filter(x => !x.labels.length && !x.getAttribute("aria-label")).length`:                                                               "0",
			`[...document.querySelectorAll("button")].filter(x => !x.textContent.trim() && !x.getAttribute("aria-label")).length`:                                                                           "0",
			`[...document.querySelectorAll("canvas")].filter(x => !x.getAttribute("aria-label")).length`:                                                                                                    "0",
			`[...document.querySelectorAll("[id]")].length - new Set([...document.querySelectorAll("[id]")].map(x => x.id)).size`:                                                                           "0",
			`[...document.querySelectorAll("[aria-labelledby], [aria-describedby]")].filter(x => !document.getElementById(x.getAttribute("aria-labelledby") || x.getAttribute("aria-describedby"))).length`: "0",
			`document.querySelectorAll('#claim-list input[role="switch"]').length > 0`:                                                                                                                      "true",
		} {
			assert.Equal(t, want, b.eval(t, script), script)
		}
	})
	b.clean(t, s)
}

// tabTo presses Tab until an element has the focus.
func (b *tab) tabTo(t *testing.T, selector string) {
	t.Helper()
	for range 300 {
		if b.eval(t, fmt.Sprintf(`document.activeElement !== null && document.activeElement.matches(%q)`, selector)) == "true" {
			return
		}
		b.do(t, chromedp.KeyEvent(kb.Tab))
	}
	require.Fail(t, "no number of tabs leads there", selector)
}

// The whole job without a pointer.
func TestPageByKeyboard(t *testing.T) {
	scan := demo(t)
	t.Chdir(t.TempDir())
	s := serve(t, scan, "--elements", "Cu,Sn")
	b := newTab(t, browsertest.Start(t), true)
	b.openPage(t, s)
	b.settled(t)
	b.tabTo(t, `[data-key="on-cuprite"]`)
	b.after(t, func() { b.do(t, chromedp.KeyEvent(" ")) })
	assert.Equal(t, "on-cuprite", b.eval(t, `document.activeElement.dataset.key`), "the focus stays")
	assert.Contains(t, b.command(t), "--phase bronze-alpha,cu6sn5-eta,cu3sn-epsilon")
	b.tabTo(t, "#plot")
	b.do(t, chromedp.KeyEvent("+"), chromedp.KeyEvent("n"), chromedp.KeyEvent("0"))
	b.tabTo(t, "#ask-at")
	b.do(t, chromedp.KeyEvent("36.43"), chromedp.KeyEvent(kb.Enter))
	b.wait(t, `document.querySelector("#ask-card [data-take='cuprite']") !== null`)
	b.tabTo(t, `#ask-card [data-take="cuprite"]`)
	b.after(t, func() { b.do(t, chromedp.KeyEvent(kb.Enter)) })
	assert.Contains(t, b.command(t), "cuprite")
	b.eval(t, `document.activeElement.blur()`)
	b.after(t, func() { b.do(t, chromedp.KeyEvent("z", chromedp.KeyModifiers(chromedp.ModifierCtrl))) })
	assert.NotContains(t, b.command(t), "cuprite")
	b.after(t, func() { b.do(t, chromedp.KeyEvent("y", chromedp.KeyModifiers(chromedp.ModifierCtrl))) })
	assert.Contains(t, b.command(t), "cuprite")
	b.tabTo(t, "#range-lo")
	b.do(t, chromedp.KeyEvent("60"))
	b.tabTo(t, "#range-hi")
	b.do(t, chromedp.KeyEvent("64"))
	b.tabTo(t, `#range-form [value="mask"]`)
	b.after(t, func() { b.do(t, chromedp.KeyEvent(kb.Enter)) })
	assert.Contains(t, b.command(t), "--mask 60:64")
	b.tabTo(t, "#save")
	b.do(t, chromedp.KeyEvent(kb.Enter))
	b.wait(t, `document.getElementById("saved").textContent.startsWith("Written")`)
	assert.FileExists(t, "bushing-aged-phases/report.html")
	b.clean(t, s)
}

// drop lets go of a file over the page.
func (b *tab) drop(t *testing.T, name, text string) {
	t.Helper()
	quoted, err := json.Marshal(text)
	require.NoError(t, err)
	b.eval(t, fmt.Sprintf(`(() => { const d = new DataTransfer(); d.items.add(new File([%s], %q)); document.getElementById("dropped").replaceChildren(); document.body.dispatchEvent(new DragEvent("drop", {dataTransfer: d, bubbles: true, cancelable: true})); return 1; })()`, quoted, name))
	b.wait(t, `document.querySelector("#dropped strong") !== null`)
}

func TestPageDrop(t *testing.T) {
	xrdtest.Long(t, "TestDroppedNames of package page")
	text, err := os.ReadFile(demo(t))
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	s := serve(t, "--elements", "Cu,Sn")
	b := newTab(t, browsertest.Start(t), true)
	b.openPage(t, s)
	began := time.Now()
	b.drop(t, "bushing.xy", string(text))
	b.wait(t, `document.getElementById("sentence").textContent.includes("bronze")`)
	t.Logf("from the drop to the answer: %v", time.Since(began).Round(time.Millisecond))
	b.settled(t)
	assert.Contains(t, b.command(t), "phasetally-page/dropped/bushing.xy --elements Cu,Sn")
	was := b.weights(t)
	for name, what := range map[string][2]string{
		"picture.jpg":  {"\xff\xd8\xff\xe0 not a scan", "picture.jpg"},
		"broken.cif":   {"data_x\n_cell_length_a ?\n", "broken.cif"},
		"machine.toml": {"schema = 3", "machine.toml"},
		"empty.xy":     {"", "is empty"},
	} {
		b.drop(t, name, what[0])
		got := b.eval(t, `document.querySelector("#dropped li.bad")?.textContent`)
		assert.Contains(t, got, what[1])
		assert.NotContains(t, got, "phasetally-page", "no folder is told")
		assert.Equal(t, was, b.weights(t), "what was there stays")
	}
	hostile := "<img src=x onerror=alert(1)>\u202e"
	b.after(t, func() {
		b.drop(t, "hostile.csv", "phase,formula,d,intensity,rir\n"+hostile+",Cu3Zn,2.13,100,8\n"+hostile+",,1.84,45,\n"+hostile+",,1.30,22,\n")
	})
	b.eval(t, `(document.getElementById("collection").open = true, document.getElementById("find-words").value = "onerror", document.getElementById("find-words").dispatchEvent(new Event("input")))`)
	b.wait(t, `document.querySelector("#find-list [data-take]") !== null`)
	b.after(t, func() { b.click(t, "#find-list [data-take]") })
	assert.Equal(t, "0", b.eval(t, `document.querySelectorAll("img").length`), "a name is text")
	b.after(t, func() { b.click(t, "#undo") })
	b.after(t, func() { b.drop(t, "made-copper.cif", copperCIF) })
	assert.Contains(t, b.command(t), "phasetally-page/dropped/made-copper.cif")
	b.eval(t, `(document.getElementById("collection").open = true, document.getElementById("find-words").value = "made", document.getElementById("find-words").dispatchEvent(new Event("input")))`)
	b.wait(t, `document.querySelector("#find-list [data-take='made-copper']") !== null`)
	b.after(t, func() { b.click(t, `#find-list [data-take="made-copper"]`) })
	assert.Contains(t, b.command(t), "made-copper")
	b.clean(t, s)
}

// A page that was killed is found again as it was, by the next start in the folder.
func TestPageKilledAndStartedAgain(t *testing.T) {
	xrdtest.Long(t, "TestPageStop")
	program := programFile(t)
	scan := demo(t)
	t.Chdir(t.TempDir())
	start := func() (*exec.Cmd, *served) {
		p := exec.Command(program, "open", scan, "--elements", "Cu,Sn", "--no-browser")
		out, err := p.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, p.Start())
		t.Cleanup(func() { _ = p.Process.Kill(); _ = p.Wait() })
		line := make([]byte, 200)
		n, err := out.Read(line)
		require.NoError(t, err)
		return p, &served{address: strings.TrimSpace(string(line[:n]))}
	}
	browser := browsertest.Start(t)
	p, s := start()
	b := newTab(t, browser, true)
	b.openPage(t, s)
	b.settled(t)
	b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
	b.after(t, func() { b.click(t, `[data-key="on-cu3sn-epsilon"]`) })
	b.after(t, func() { b.click(t, "#undo") })
	weights, command, log := b.weights(t), b.command(t), b.eval(t, `document.getElementById("log").textContent`)
	require.NoError(t, p.Process.Kill())
	_ = p.Wait()
	b.wait(t, `!document.getElementById("trouble").hidden`)
	assert.Contains(t, b.trouble(t), "nothing is lost")
	_, again := start()
	assert.NotEqual(t, s.address, again.address, "the key is new")
	fresh := newTab(t, browser, false)
	fresh.openPage(t, again)
	fresh.settled(t)
	assert.Equal(t, weights, fresh.weights(t))
	assert.Equal(t, command, fresh.command(t))
	assert.Equal(t, log, fresh.eval(t, `document.getElementById("log").textContent`))
	fresh.after(t, func() { fresh.click(t, "#redo") })
	assert.NotContains(t, fresh.command(t), "cu3sn-epsilon", "what had been undone is there, too")
	fresh.clean(t, again)
}
