package plots

import (
	"bytes"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/BurntSushi/toml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata"
	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile/resulttest"
)

// A table that leaves a word out would mix two languages in one figure: those that come with the program are complete,
// and print with the same places for numbers.
func TestLanguagesAreComplete(t *testing.T) {
	assert.Equal(t, []string{"en", "de"}, Languages())
	var english bytes.Buffer
	require.NoError(t, WriteWords(&english, Style{}))
	var want map[string]any
	_, err := toml.Decode(english.String(), &want)
	require.NoError(t, err)
	for _, language := range Languages()[1:] {
		raw, err := os.ReadFile("words/" + language + ".toml")
		require.NoError(t, err)
		var got map[string]any
		_, err = toml.Decode(string(raw), &got)
		require.NoError(t, err)
		for key := range want {
			assert.Contains(t, got, key, language)
		}
		s, err := Style{Dark: true}.In(strings.ToUpper(language))
		require.NoError(t, err)
		assert.True(t, s.Dark, "the look stays")
		assert.Equal(t, language, s.words().Language)
	}
	s, err := Style{}.In("EN")
	require.NoError(t, err)
	assert.Equal(t, Style{}, s)
	_, err = Style{}.In("tlh")
	require.ErrorIs(t, err, ErrLanguage)
	_, err = Style{}.In("../words/de")
	require.ErrorIs(t, err, ErrLanguage)
}

// Longer words neither overlap nor leave the page, in any figure and medium, and no English is left.
func TestFiguresInAnotherLanguage(t *testing.T) {
	for sn, s := range styles() {
		s, err := s.In("de")
		require.NoError(t, err)
		figures := allFigures(t, resulttest.Mixture(1), s)
		for name, f := range seriesFigures(t, s) {
			figures[name] = f
		}
		for name, f := range figures {
			texts := strings.Join(append(f.Texts(), f.Title(), f.Description()), "|")
			for _, english := range []string{"counts", "residual", "wt%", " of ", "observed", "scale", "expected", "scan", "not seen"} {
				assert.NotContains(t, strings.ReplaceAll(texts, "texture and line scatter", ""), english, "%s %s", sn, name)
			}
			requireFree(t, f, sn+" "+name)
			svg, err := f.SVG()
			require.NoError(t, err)
			assert.Contains(t, string(svg[:200]), `lang="de"`)
		}
	}
}

// requireFree checks that no text leaves the page or meets another.
func requireFree(t *testing.T, f *Figure, where string) {
	t.Helper()
	var boxes []box
	for _, it := range items(f) {
		if it.label == nil {
			continue
		}
		b := it.label.box()
		assert.True(t, b.left >= -0.01 && b.top >= -0.01 && b.right <= f.width+0.01 && b.bottom <= f.height+0.01, "%s: %q leaves the page", where, it.label.text)
		assert.False(t, meetsAny(b.grow(-0.35), boxes), "%s: %q over another", where, it.label.text)
		boxes = append(boxes, b.grow(-0.35))
	}
}

func TestWordsSurviveARoundTrip(t *testing.T) {
	german, err := Style{}.In("de")
	require.NoError(t, err)
	for _, s := range []Style{{}, german} {
		var out, again bytes.Buffer
		require.NoError(t, WriteWords(&out, s))
		back, err := s.ReadWords(bytes.NewReader(out.Bytes()), "words.toml")
		require.NoError(t, err)
		require.NoError(t, WriteWords(&again, back))
		assert.Equal(t, out.String(), again.String())
	}
}

func TestWordTablesThatCannotBe(t *testing.T) {
	for _, c := range []struct {
		why, text string
		err       error
		line      int
	}{
		{"no table", "counts = ", ErrWordTable, 1},
		{"an unknown word", "counts = \"x\"\nsums = \"x\"\n", ErrWordKey, 2},
		{"a place is missing", `two_theta = "2θ"`, ErrWordVerbs, 1},
		{"places are swapped", `found_peaks = "%s peaks"`, ErrWordVerbs, 1},
		{"a lone per cent sign where there are places", "\n" + `not_seen = "< %s wt%"`, ErrWordVerbs, 2},
		{"a number", "counts = 3", ErrWordTable, 1},
		{"nothing", `counts = ""`, ErrWordTable, 1},
		{"a list of terms", "[terms]\nstandard = [1]", ErrWordTable, 0},
		{"too long", "counts = \"" + strings.Repeat("x", mostWordBytes) + `"`, ErrWordTable, 0},
	} {
		_, err := Style{}.ReadWords(strings.NewReader(c.text), "x.toml")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, c.why)
		require.ErrorIs(t, err, c.err, c.why)
		assert.Equal(t, c.line, at.Line, c.why)
		assert.Contains(t, at.Fix, "--print-words")
	}
	s, err := Style{}.ReadWords(strings.NewReader("residual = \"rest\"\n[terms]\ncounting = \"comptage\""), "x.toml")
	require.NoError(t, err)
	f, err := Pattern(resulttest.Mixture(1), s, PatternOptions{})
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "rest")
	assert.Contains(t, f.Texts(), "d (Å)", "what is left out is English")
	f, err = Budget(resulttest.Mixture(1).Document, s)
	require.NoError(t, err)
	assert.True(t, slices.ContainsFunc(f.Texts(), func(s string) bool { return strings.Contains(s, "comptage") }))
}

func FuzzWords(f *testing.F) {
	var out bytes.Buffer
	require.NoError(f, WriteWords(&out, Style{}))
	f.Add(out.String())
	f.Add("not_seen = \"%s\"")
	f.Add("[terms]\n\"a\\u0000b\" = '''x\ny'''")
	doc := resulttest.Mixture(1).Document
	f.Fuzz(func(t *testing.T, text string) {
		s, err := Style{}.ReadWords(strings.NewReader(text), "fuzz.toml")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			return
		}
		var out bytes.Buffer
		require.NoError(t, WriteWords(&out, s))
		again, err := Style{}.ReadWords(&out, "again.toml")
		require.NoError(t, err)
		if len(s.Words.Terms) > 0 {
			require.Equal(t, s.Words, again.Words)
		}
		require.Equal(t, s.Series, again.Series)
		_, err = Fractions(doc, s)
		require.NoError(t, err)
	})
}

// Every source of the uncertainty budget, and every phase of the starter collection that goes by an English name, has a German one.
func TestGermanTermsAreComplete(t *testing.T) {
	style, err := Style{}.In("de")
	require.NoError(t, err)
	text, err := os.ReadFile("../xrd/quantify/budget.go")
	require.NoError(t, err)
	sources := regexp.MustCompile(`(?m)^\tsource\w+ += "([^"]+)"`).FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(sources), 15)
	for _, s := range sources {
		assert.Contains(t, style.Words.Terms, s[1])
	}
	for _, p := range refdata.Starter() {
		if !regexp.MustCompile(`^[A-Z]`).MatchString(p.Name) {
			assert.Contains(t, style.Words.Terms, p.Name)
		}
	}
}

// German figures write decimal commas and German names, in every figure.
func TestGermanFiguresAreGerman(t *testing.T) {
	style, err := Style{}.In("de")
	require.NoError(t, err)
	r := resulttest.Mixture(1)
	point := regexp.MustCompile(`\d\.\d`)
	for name, f := range allFigures(t, r, style) {
		for _, s := range f.Texts() {
			assert.False(t, point.MatchString(s), "%s: %q", name, s)
			assert.NotRegexp(t, "corundum|zincite|fluorite|quartz", s, name)
		}
	}
	f, err := Fractions(r.Document, style)
	require.NoError(t, err)
	assert.Contains(t, f.Texts(), "Korund")
	assert.Contains(t, f.Texts(), "31,4 (30,9–31,9) Gew.-%")
}

// So are those of a plan: titles, axes, notes, names and decimal commas.
func TestGermanPlanFigures(t *testing.T) {
	style, err := Style{}.In("de")
	require.NoError(t, err)
	layer, length := 2.5, 10.0
	p := result.Plan{Drawn: resulttest.Mixture(1), Specimen: result.PlannedSpecimen{LayerUM: &layer, LengthMM: &length}}
	for _, ph := range p.Drawn.Document.Phases {
		p.Phases = append(p.Phases, result.PlannedPhase{ID: ph.ID, Name: ph.Name, DepthUM: [3]float64{1.5, 4.8, 7.25}})
	}
	p.Footprint.Rows = []result.FootprintRow{{TwoTheta: 22.5, LengthMM: 20.1, Share: 0.5}, {TwoTheta: 40, LengthMM: 10.2, Share: 0.98}}
	pattern, err := PlannedPattern(p, style)
	require.NoError(t, err)
	point := regexp.MustCompile(`\d\.\d`)
	var all []string
	for _, f := range []*Figure{pattern, Depths(p, style), FootprintFigure(p, style)} {
		for _, s := range append(f.Texts(), f.Description()) {
			assert.False(t, point.MatchString(s), "%q", s)
			assert.NotRegexp(t, "corundum|expected scan|beam|specimen|layer", s)
			all = append(all, s)
		}
	}
	for _, want := range []string{"Korund", "4,8 µm", "20,1 mm, 50 % darauf", "22,5°", "gefragt ist nach einer Schicht von 2,5 µm", "Woher das Signal kommt"} {
		assert.Contains(t, all, want)
	}
}
