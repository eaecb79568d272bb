package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/resultfile"
	"phasetally/xrd/session"
	"phasetally/xrd/xrdtest"
)

// ofPage runs the answer of a session's state as the page does and returns its document as analysis.json has it.
func ofPage(t testing.TB, l *loader, s *session.Session) (*session.Answer, string) {
	t.Helper()
	a, err := session.Solve(t.Context(), l.load, s.Args(), nil)
	require.NoError(t, err)
	b, err := resultfile.JSON(a.Document)
	require.NoError(t, err)
	return a, string(b)
}

// timeless takes out of a document what two runs of one command differ by.
func timeless(t *testing.T, document string) string {
	t.Helper()
	var doc map[string]any
	require.NoError(t, json.Unmarshal([]byte(document), &doc))
	doc["choices"] = nil
	p := doc["provenance"].(map[string]any)
	p["started"], p["elapsed_s"] = nil, nil
	p["command"] = nil // that of the test's process
	given := p["given"].(map[string]any)
	settings := p["settings"].(map[string]any)
	for _, name := range []string{"format", "out"} { // the test prints instead of writing a folder
		delete(given, name)
		delete(settings, name)
	}
	out, err := json.Marshal(doc)
	require.NoError(t, err)
	return string(out)
}

// The command line of every state gives the answer of the page, to the byte; undoing everything gives the first one's bytes.
func TestPageCommandGivesTheSameBytes(t *testing.T) {
	xrdtest.Long(t, "TestSwitchingGivesTheNumbersOfQuantify")
	scan := demo(t)
	var l loader
	defer l.close()
	s := session.New(scan, session.Settings{"elements": {"Cu", "Sn"}})
	first, bytes := ofPage(t, &l, s)
	found := first.Found()
	require.Len(t, found, 4)
	choices := []session.Choice{
		{Kind: session.LeaveOut, ID: "cuprite"},
		{Kind: session.Include, ID: "tin-beta"},
		{Kind: session.Include, ID: "cuprite"},
		{Kind: session.Aside, ID: "cuprite"},
		{Kind: session.Mask, Range: session.Span{36, 37.25}},
		{Kind: session.Set, Values: session.Settings{"range": {"25:95"}, "intercept": {"8±2", "5±1:cu3sn-epsilon"}, "sample": {"what's, \"new\""}}},
		{Kind: session.Search, Values: session.Settings{"exclude": {"cuprite"}, "elements": {"Cu", "Sn", "Ni"}, "strict-elements": {"true"}}},
	}
	check := func(what string) {
		_, page := ofPage(t, &l, s)
		code, stdout, stderr := within(t, t.Context(), append(s.Args(), "--format", "json", "--out", filepath.Join(t.TempDir(), "out"))...)
		require.Contains(t, []int{exitDone, exitNeedsHuman}, code, stderr)
		assert.Equal(t, timeless(t, stdout), timeless(t, page), what)
	}
	check("as given")
	for _, c := range choices {
		require.NoError(t, s.Apply(c, found))
		check(c.Words())
	}
	for s.Undo() {
	}
	_, again := ofPage(t, &l, s)
	assert.Equal(t, bytes, again, "everything undone")
}

// Off and on again: the numbers are those of quantify with the same phases, to the last digit.
func TestSwitchingGivesTheNumbersOfQuantify(t *testing.T) {
	scan := demo(t)
	var l loader
	defer l.close()
	s := session.New(scan, session.Settings{"elements": {"Cu", "Sn"}})
	first, _ := ofPage(t, &l, s)
	require.NoError(t, s.Apply(session.Choice{Kind: session.LeaveOut, ID: "cuprite"}, first.Found()))
	without, _ := ofPage(t, &l, s)
	require.NoError(t, s.Apply(session.Choice{Kind: session.Include, ID: "cuprite"}, first.Found()))
	with, _ := ofPage(t, &l, s)
	for _, c := range []struct {
		phases string
		page   *session.Answer
	}{{"bronze-alpha,cu6sn5-eta,cu3sn-epsilon", without}, {"bronze-alpha,cu6sn5-eta,cu3sn-epsilon,cuprite", with}} {
		code, stdout, stderr := within(t, t.Context(), "quantify", scan, "--phase", c.phases, "--format", "csv")
		require.Contains(t, []int{exitDone, exitNeedsHuman}, code, stderr)
		assert.Equal(t, stdout, string(resultfile.FractionsCSV(c.page.Document)))
	}
}

// Every setting of the page is a flag of analyse, of the same kind, and every flag is a setting or none of the page's business.
func TestEverySettingIsAFlag(t *testing.T) {
	var o options
	c := &cobra.Command{}
	o.analyseFlags(c)
	kinds := map[session.FieldKind][]string{session.Text: {"string"}, session.Number: {"float64"}, session.OneOf: {"string"}, session.Switch: {"bool"},
		session.List: {"stringSlice"}, session.Many: {"stringArray"}, session.File: {"string"}, session.Files: {"stringArray"}, session.Scan: {"string"}}
	known := []string{"phase", "aside", "out", "force", "format", "quiet", "jobs", "csv-locale", "settings", "save-settings"}
	for _, f := range session.Fields() {
		flag := c.Flags().Lookup(f.Name)
		if assert.NotNil(t, flag, f.Name) {
			assert.Contains(t, kinds[f.Kind], flag.Value.Type(), f.Name)
		}
		assert.NotEmpty(t, f.Help, f.Name)
		known = append(known, f.Name)
	}
	c.Flags().VisitAll(func(f *pflag.Flag) {
		assert.True(t, slices.Contains(known, f.Name), "--%s is neither a setting of the page nor known to be none", f.Name)
	})
}

// BenchmarkSwitch measures the fit behind switching one of five phases off, each in its turn: a phase that holds much of the pattern
// takes longest, since what is left explains it badly.
func BenchmarkSwitch(b *testing.B) {
	for _, c := range []struct {
		name, scan string
		given      session.Settings
	}{
		{"demo", "../../testdata/bushing-aged.xy", session.Settings{"phase": {"bronze-alpha", "cu6sn5-eta", "cu3sn-epsilon", "cuprite", "tin-beta"}}},
		{"7251 points", sevenThousand(b), session.Settings{"radiation": {"Cu"}, "phase": {"corundum", "fluorite", "zincite", "quartz", "calcite"}}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var l loader
			defer l.close()
			s := session.New(c.scan, c.given)
			a, _ := ofPage(b, &l, s)
			var took []time.Duration
			ids := c.given["phase"]
			for b.Loop() {
				began := time.Now()
				if err := s.Apply(session.Choice{Kind: session.LeaveOut, ID: ids[len(took)%len(ids)]}, a.Found()); err != nil {
					b.Fatal(err)
				}
				if _, err := session.Solve(b.Context(), l.load, s.Args(), nil); err != nil {
					b.Fatal(err)
				}
				took = append(took, time.Since(began))
				s.Undo()
			}
			slices.Sort(took)
			b.ReportMetric(float64(percentile95(took).Microseconds())/1000, "p95-ms")
		})
	}
}

// sevenThousand is a simulated powder of three phases, 5–150° in steps of 0.02°.
func sevenThousand(b *testing.B) string {
	name := filepath.Join(b.TempDir(), "powder.xy")
	var out, errs strings.Builder
	code := run(b.Context(), strings.Fields(fmt.Sprintf("simulate --phase corundum=40 --phase fluorite=35 --phase zincite=15 --phase quartz=6 --phase calcite=4 --radiation Cu --range 5:150 --step 0.02 --out %s", name)), strings.NewReader(""), &out, &errs)
	if code != exitDone {
		b.Fatal(errs.String())
	}
	return name
}

// Save writes what the command writes: every file to the byte, but for the choices, when it began and how long it took.
func TestSaveWritesWhatTheCommandWrites(t *testing.T) {
	scan := demo(t)
	t.Chdir(t.TempDir())
	var l loader
	defer l.close()
	s := session.New(scan, session.Settings{"elements": {"Cu", "Sn"}})
	first, _ := ofPage(t, &l, s)
	require.NoError(t, s.Apply(session.Choice{Kind: session.LeaveOut, ID: "cuprite"}, first.Found()))
	a, _ := ofPage(t, &l, s)
	folder, err := savePage(scan, a.Finish(s.Choices()), false)
	require.NoError(t, err)
	_, err = savePage(scan, a.Finish(nil), false)
	require.ErrorIs(t, err, resultfile.ErrExists)
	require.NoError(t, os.Rename(folder, "page"))
	code, _, stderr := within(t, t.Context(), s.Args()...)
	require.Contains(t, []int{exitDone, exitNeedsHuman}, code, stderr)
	names, err := filepath.Glob(filepath.Join(folder, "*"))
	require.NoError(t, err)
	require.Greater(t, len(names), 10)
	for _, name := range names {
		want, err := os.ReadFile(name)
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join("page", filepath.Base(name)))
		require.NoError(t, err)
		switch filepath.Base(name) {
		case "analysis.json":
			assert.Contains(t, string(got), `"cuprite left out of the fit"`)
			assert.Equal(t, timeless(t, string(want)), timeless(t, string(got)))
		case "analysis.cif", "report.html", resultfile.Marker: // they tell the command line and the time of day, or sums of what does
			assert.NotEmpty(t, got)
		default:
			assert.True(t, string(want) == string(got), "%s differs", filepath.Base(name))
		}
	}
}
