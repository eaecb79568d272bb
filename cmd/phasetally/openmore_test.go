package main

import (
	"context"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots/browsertest"
)

// simulated writes a scan of a powder of many phases and returns its name.
func simulated(t testing.TB, step string) string {
	name := filepath.Join(t.TempDir(), "powder.xy")
	args := []string{"simulate", "--radiation", "Cu", "--range", "5:150", "--step", step, "--out", name}
	for _, p := range []string{"corundum=40", "fluorite=20", "zincite=15", "quartz=15", "calcite=10"} {
		args = append(args, "--phase", p)
	}
	var out, errs strings.Builder
	require.Equal(t, exitDone, run(t.Context(), args, strings.NewReader(""), &out, &errs), errs.String())
	return name
}

// A search that takes long is stopped by its button: the choice is taken back, the numbers before it stand and are not grey.
func TestPageStop(t *testing.T) {
	scan := simulated(t, "0.005")
	t.Chdir(t.TempDir())
	s := serve(t, scan, "--phase", "corundum")
	b := newTab(t, browsertest.Start(t), true)
	b.openPage(t, s)
	b.settled(t)
	was, command := b.weights(t), b.command(t)
	b.click(t, "#search-again")
	b.wait(t, `!document.getElementById("working").hidden`)
	assert.Equal(t, "true", b.eval(t, `document.body.classList.contains("stale")`), "old numbers are grey")
	assert.NotEqual(t, "1", b.eval(t, `getComputedStyle(document.getElementById("claim-list")).opacity`))
	assert.Contains(t, b.eval(t, `document.getElementById("working-words").textContent`), "Greyed numbers are those before")
	b.wait(t, `/: (finding peaks|peaks: \d+, none explained yet; |candidates for .* of the peak area so far: )/.test(document.getElementById("working-words").textContent)`)
	began := time.Now()
	b.click(t, "#stop")
	b.wait(t, `document.getElementById("trouble").textContent.includes("Stopped")`)
	t.Logf("stopped after %v", time.Since(began).Round(time.Millisecond))
	assert.Equal(t, was, b.weights(t))
	assert.Equal(t, command, b.command(t))
	assert.Equal(t, "false", b.eval(t, `document.body.classList.contains("stale")`))
	b.clean(t, s)
}

// The scans of a folder stand in a list with their answers; one that cannot be read says why there.
func TestPageOfAFolder(t *testing.T) {
	text, err := os.ReadFile(demo(t))
	require.NoError(t, err)
	t.Chdir(t.TempDir())
	require.NoError(t, os.Mkdir("scans", 0o755))
	for name, content := range map[string]string{"a.xy": string(text), "b.xy": "no numbers\n", "c.xy": "# mounted again\n" + string(text), "notes.md": "none"} {
		require.NoError(t, os.WriteFile(filepath.Join("scans", name), []byte(content), 0o644))
	}
	s := serve(t, "scans", "--elements", "Cu,Sn")
	b := newTab(t, browsertest.Start(t), true)
	b.openPage(t, s)
	b.wait(t, `(l => l.length === 3 && l[0].textContent.includes("bronze") && l[2].textContent.includes("bronze") && l[1].textContent.includes("b.xy: "))([...document.querySelectorAll("#scan-items li")])`)
	b.after(t, func() { b.click(t, `[data-key="scan2"]`) })
	assert.Contains(t, b.command(t), "scans/c.xy")
	b.after(t, func() { b.click(t, `[data-key="on-cuprite"]`) })
	b.eval(t, `(document.getElementById("compare-a").value = "0.", document.getElementById("compare-a").dispatchEvent(new Event("change")))`)
	b.click(t, "#compare-form button")
	b.wait(t, `document.querySelectorAll("#compare-rows tr").length === 4 && document.getElementById("name-a").textContent !== ""`)
	assert.Contains(t, b.eval(t, `document.getElementById("name-a").textContent`), "a.xy")
	b.click(t, `[data-key="scan1"]`)
	b.wait(t, `document.getElementById("trouble").textContent.includes("b.xy: ")`)
	assert.Equal(t, "There is no answer.", b.eval(t, `document.getElementById("sentence").textContent`))
	b.clean(t, s)
}

// What is wrong with the command is told before anything opens.
func TestOpenRefuses(t *testing.T) {
	scan := demo(t)
	t.Chdir(t.TempDir())
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	port := strconv.Itoa(taken.Addr().(*net.TCPAddr).Port)
	require.NoError(t, os.MkdirAll("broken", 0o755))
	require.NoError(t, os.WriteFile("broken/choices.json", []byte("{"), 0o644))
	require.NoError(t, os.Mkdir("empty", 0o755))
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"no such scan", []string{"missing.xy"}, "missing.xy"},
		{"a folder without scans", []string{"empty"}, "no scan in the folder"},
		{"the standard input", []string{"-"}, "drop it on the page"},
		{"a wrong flag", []string{scan, "--slit", "wide"}, "--slit"},
		{"an unknown phase", []string{scan, "--exclude", "no-such-phase"}, "no-such-phase"},
		{"a flag of another command", []string{scan, "--out", "x"}, "--out: the page writes when it is asked to"},
		{"a port that is taken", []string{scan, "--port", port}, "--port " + port + " cannot be had"},
		{"no port", []string{scan, "--port", "70000"}, "--port 70000 cannot be had"},
		{"choices that cannot be read", []string{scan, "--keep", "broken"}, "move it away"},
	} {
		code, stdout, stderr := within(t, t.Context(), append([]string{"open", "--no-browser"}, c.args...)...)
		assert.Equal(t, exitBadInput, code, c.name)
		assert.Empty(t, stdout, c.name)
		assert.Contains(t, stderr, c.want, c.name)
	}
}

// Without a browser the address is printed all the same, and what to do.
func TestOpenWithoutABrowser(t *testing.T) {
	scan := demo(t)
	t.Chdir(t.TempDir())
	t.Setenv("PATH", t.TempDir())
	s := serveWith(t, "open", scan, "--elements", "Cu,Sn")
	assert.True(t, strings.HasPrefix(s.address, "http://127.0.0.1:"))
	_, stderr := s.stop()
	assert.Contains(t, stderr, "no browser could be started")
	assert.Contains(t, stderr, "open the address above")
}

// stopwatch makes the page note, for every choice by click, when it came, when its numbers stood there and when its pattern was drawn, in
// milliseconds of its own clock.
const stopwatch = `addEventListener("click", e => {
	if (!e.target.matches("[role=switch], #undo")) return;
	const began = e.timeStamp, plot = document.getElementById("plot"), was = document.body.dataset.answer;
	window.watch = null;
	const look = () => {
		if (document.body.dataset.answer === was || document.body.dataset.settled !== "true" || plot.dataset.answer !== document.body.dataset.answer) return requestAnimationFrame(look);
		requestAnimationFrame(() => { window.watch = performance.now() - began; }); // the frame with them is on its way to the screen
	};
	look();
}, true), 1`

// switching shows five phases and switches each off alone, which is undone before the next, so that every answer is a new one. It
// returns how long each took from the click until the new numbers and the new pattern were drawn, and each undoing.
func switching(t *testing.T, browser context.Context, scan, phases string, reading time.Duration) (fitted, undone []time.Duration) {
	t.Helper()
	s := serve(t, scan, "--phase", phases, "--keep", t.TempDir())
	defer s.stop()
	b := newTab(t, browser, false)
	b.openPage(t, s)
	b.settled(t)
	b.eval(t, stopwatch)
	timed := func(selector string) time.Duration {
		b.after(t, func() { b.click(t, selector) })
		b.wait(t, `window.watch > 0`)
		ms, err := strconv.ParseFloat(b.eval(t, `window.watch`), 64)
		require.NoError(t, err)
		return time.Duration(ms * float64(time.Millisecond)).Round(time.Millisecond)
	}
	for _, id := range strings.Split(phases, ",") {
		time.Sleep(reading)
		fitted = append(fitted, timed(`[data-key="on-`+id+`"]`))
		undone = append(undone, timed("#undo"))
	}
	b.clean(t, s)
	return fitted, undone
}

// Response times in the browser, from the click until the new numbers are there and drawn, by the page's own clock: clicked as soon as
// the answer before is there, and by somebody who reads it for three seconds. On a busy machine they say little: run this test alone,
// with -v, on a quiet one. It checks nothing that the other tests do not, and takes minutes under the race detector.
func TestPageResponseTimes(t *testing.T) {
	if os.Getenv("RESPONSE_TIMES") == "" {
		t.Skip("SKIPPED: response times; RESPONSE_TIMES=1 measures them")
	}
	powder, scan := simulated(t, "0.02"), demo(t)
	t.Chdir(t.TempDir())
	browser := browsertest.Start(t)
	newTab(t, browser, true)
	for _, c := range []struct{ name, scan, phases string }{
		{"demo scan, 4001 points", scan, "bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite,tin-beta"},
		{"simulated powder, 7251 points", powder, "corundum,fluorite,zincite,quartz,calcite"},
	} {
		for _, reading := range []time.Duration{0, 3 * time.Second} {
			var fitted, undone []time.Duration
			for range 4 { // each by a program that knows no answer yet
				f, u := switching(t, browser, c.scan, c.phases, reading)
				fitted, undone = append(fitted, f...), append(undone, u...)
			}
			slices.Sort(fitted)
			slices.Sort(undone)
			t.Logf("%s, one of five phases switched off after %v: median %v, p95 %v of %v; undone: p95 %v", c.name, reading,
				fitted[len(fitted)/2], percentile95(fitted), fitted, percentile95(undone))
		}
	}
}

// percentile95 is the value that 95 % of sorted ones do not exceed.
func percentile95(sorted []time.Duration) time.Duration { return sorted[(95*len(sorted)+99)/100-1] }
