package page

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/plots"
	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

// What could be at an angle is told with what speaks for it: how many of its strong lines have a peak, and what it explains; twelve are listed.
func TestCandidatesInWords(t *testing.T) {
	list := []result.Candidate{{Suspect: result.Suspect{ID: "cuprite", Name: "cuprite", Formula: "Cu2O", TwoTheta: 36.43, Intensity: 100, Inside: true}, Seen: 3, Expected: 4, Significance: 12.4},
		{Suspect: result.Suspect{ID: "x", Name: "x", TwoTheta: 36.5, Intensity: 7.6}, Seen: 0, Expected: 5}}
	v := candidatesOf(36.43, list)
	require.Len(t, v.Candidates, 2)
	assert.Equal(t, "line at 36.43°, 100 % of its strongest; 3 of 4 strong lines have a peak; explains 12 σ of what is left", v.Candidates[0].Text)
	assert.Equal(t, "line at 36.50°, 8 % of its strongest; 0 of 5 strong lines have a peak; explains nothing of what is left", v.Candidates[1].Text)
	assert.True(t, v.Candidates[0].Allowed)
	assert.False(t, v.Candidates[1].Allowed)
	assert.NotEqual(t, "Cu2O", v.Candidates[0].Formula, "with its number below the line")
	assert.Len(t, candidatesOf(40, make([]result.Candidate, 30)).Candidates, mostCandidates)
	assert.NotNil(t, candidatesOf(40, nil).Candidates, "an empty list, not null")
}

// Found phases stand in the order of their names.
func TestFoundInOrder(t *testing.T) {
	v := foundOf([]session.Reference{{ID: "2", Name: "tenorite"}, {ID: "1", Name: "cuprite", Elements: []string{"Cu", "O"}, Allowed: true}}, true)
	require.Len(t, v.Found, 2)
	assert.Equal(t, "1", v.Found[0].ID)
	assert.Equal(t, "Cu, O", v.Found[0].Text)
	assert.True(t, v.More)
}

// Numbers of a comparison: a dash for what is not known, the uncertainty where it is.
func TestWithU(t *testing.T) {
	v, u := 12.345, 0.678
	assert.Equal(t, "–", withU(nil, nil))
	assert.Equal(t, "–", withU(nil, &u))
	assert.Equal(t, "12.35", withU(&v, nil))
	assert.Equal(t, "12.35 ± 0.68", withU(&v, &u))
}

// Names of files in a header are bytes that no header takes for anything else (RFC 8187).
func TestEscapeName(t *testing.T) {
	for name, want := range map[string]string{"a-b_c.1": "a-b_c.1", "ü": "%C3%BC", "a b": "a%20b", `x";y`: "x%22%3By", "a\r\nSet-Cookie": "a%0D%0ASet-Cookie", "100%": "100%25"} {
		assert.Equal(t, want, escapeName(name))
	}
}

// A width is a medium or millimetres.
func TestStyleOfAWidth(t *testing.T) {
	for text, want := range map[string]plots.Style{"": {}, "slide": {Medium: plots.Slide}, "one-column": {Medium: plots.OneColumn}, "100": {Medium: plots.OneColumn, Width: 100}, "180": {Width: 180}} {
		got, err := styleOf(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
	for _, text := range []string{"12", "1000", "NaN", "wide"} {
		_, err := styleOf(text)
		assert.Error(t, err, text)
	}
}

// Ranges as the command takes them.
func TestSpanOf(t *testing.T) {
	for text, want := range map[string][2]float64{"20:30": {20, 30}, " 20.5:1e2 ": {20.5, 100}} {
		got, ok := spanOf(text)
		assert.True(t, ok, text)
		assert.Equal(t, want, got)
	}
	for _, text := range []string{"", "20", "20:", ":30", "a:b"} {
		_, ok := spanOf(text)
		assert.False(t, ok, text)
	}
}

// The latest answers are kept, and the first one, where everything began; one command line is kept once.
func TestAnswersThatAreKept(t *testing.T) {
	var b bench
	name := func(i int) string { return string(rune('a' + i)) }
	for i := range mostKept + 5 {
		b.remember(&solved{args: name(i)})
		b.remember(&solved{args: name(i)})
	}
	require.Len(t, b.answers, mostKept)
	assert.Equal(t, "a", b.answers[0].args)
	for k, a := range b.answers[1:] {
		assert.Equal(t, name(6+k), a.args, "the eldest went first")
	}
	assert.Nil(t, b.known("b"))
	assert.NotNil(t, b.known("a"))
	b.guessed = []*solved{{args: "ahead"}}
	assert.NotNil(t, b.known("ahead"), "what was worked out ahead is known, too")
}

// What is shown before is what was shown last, not the same once more; what has been written is no longer what is shown.
func TestShownBefore(t *testing.T) {
	var b bench
	one, two := &solved{args: "1"}, &solved{args: "2"}
	b.show(one)
	b.saved = "folder"
	b.show(two)
	assert.Empty(t, b.saved)
	assert.Same(t, one, b.before)
	b.show(two)
	assert.Same(t, one, b.before)
	assert.False(t, b.idle())
	assert.True(t, (&bench{}).idle())
	assert.False(t, (&bench{busy: true}).idle())
	assert.False(t, (&bench{trouble: "none"}).idle())
}

// Of many scans the eight that were looked at last keep their answers, the one that is shown and those at work beside.
func TestWhatIsForgotten(t *testing.T) {
	s := &Server{shown: 0}
	for i := range mostOpen + 4 {
		s.benches = append(s.benches, &bench{shown: &solved{}, used: 100 - i})
	}
	s.benches[0].used, s.benches[11].busy = -1, true
	s.forget()
	for i, b := range s.benches {
		assert.Equal(t, i != 9 && i != 10, b.shown != nil, "%d", i)
	}
}

// Work ahead begins with the faintest phases, since they are doubted most; amounts that are not known are the faintest.
func TestPercentOfAPhase(t *testing.T) {
	v := 3.5
	assert.InDelta(t, 3.5, percent(result.Phase{WeightPercent: &v}), 0)
	assert.Zero(t, percent(result.Phase{}))
	assert.Equal(t, "zincite", standardOf(result.Document{Phases: []result.Phase{{ID: "a", Origin: "specimen"}, {ID: "zincite", Origin: "standard"}}}))
	assert.Empty(t, standardOf(result.Document{}))
	assert.False(t, math.IsNaN(percent(result.Phase{})))
}

// The loopback address on our port is the page's own, by each of its names; a name that leads here, another port and no port are not.
func TestOwnAddress(t *testing.T) {
	s := &Server{host: "127.0.0.1:4711"}
	for host, want := range map[string]bool{"127.0.0.1:4711": true, "localhost:4711": true, "[::1]:4711": true, "127.0.0.1:4712": false, "127.0.0.1": false, "": false,
		"elsewhere.example:4711": false, "127.0.0.1.elsewhere.example:4711": false, "0.0.0.0:4711": false} {
		assert.Equal(t, want, s.ours(host), host)
	}
	assert.Equal(t, "phasetally_4711", s.cookieName(), "cookies are shared by all ports of a host")
	s.key = "secret"
	assert.True(t, s.isKey("secret"))
	for _, wrong := range []string{"", "secre", "secrets", "Secret"} {
		assert.False(t, s.isKey(wrong), wrong)
	}
}

// A file has a place of its own: the same content is found again, another of the name gets a number before the ending, and nothing is written over.
func TestPlaceOfAFile(t *testing.T) {
	folder := t.TempDir()
	place := func(name, content string) string {
		path, err := placeFor(folder, name, []byte(content))
		require.NoError(t, err)
		kept, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, content, string(kept))
		return filepath.Base(path)
	}
	assert.Equal(t, "a.xy", place("a.xy", "one"))
	assert.Equal(t, "a.xy", place("a.xy", "one"))
	assert.Equal(t, "a-2.xy", place("a.xy", "two"))
	assert.Equal(t, "a-3.xy", place("a.xy", "three"))
	assert.Equal(t, "a-2.xy", place("a.xy", "two"))
	assert.Equal(t, "noending", place("noending", "x"))
	assert.Equal(t, "noending-2", place("noending", "y"))
	_, err := placeFor(filepath.Join(folder, "missing"), "a", []byte("x"))
	assert.Error(t, err)
}

// What a setting's file is for, and when settings are those of before.
func TestKindsAndSettings(t *testing.T) {
	for name, want := range map[string]Kind{"library": KindReference, "instrument": KindInstrument, "preparation": KindPreparation, "blank": KindScan, "k-standard": KindScan} {
		f, ok := session.FieldOf(name)
		require.True(t, ok, name)
		assert.Equal(t, want, kindOf(f), name)
	}
	a := session.Settings{"radiation": {"Cu"}, "elements": {"Cu", "Sn"}}
	assert.True(t, sameSettings(a, session.Settings{"elements": {"Cu", "Sn"}, "radiation": {"Cu"}}), "in any order")
	assert.True(t, sameSettings(a, nil), "nothing is stated now")
	assert.False(t, sameSettings(nil, a))
	assert.False(t, sameSettings(a, session.Settings{"radiation": {"Co"}}))
	assert.Equal(t, []int{0, 1, 2}, seq(3))
}
