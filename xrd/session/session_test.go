package session_test

import (
	"encoding/csv"
	"encoding/json"
	"math/rand/v2"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/result"
	"phasetally/xrd/session"
)

var found = []session.Phase{{ID: "copper", On: true}, {ID: "cuprite", On: true}, {ID: "sic-6h", On: true, Aside: true}}

func leave(id string) session.Choice   { return session.Choice{Kind: session.LeaveOut, ID: id} }
func include(id string) session.Choice { return session.Choice{Kind: session.Include, ID: id} }

func TestChoicesBecomeACommandLine(t *testing.T) {
	for _, c := range []struct {
		name    string
		given   session.Settings
		choices []session.Choice
		want    string
	}{
		{"nothing chosen", nil, nil, "analyse a.xy"},
		{"as given", session.Settings{"elements": {"Cu", "Sn"}, "strict-elements": {"true"}}, nil, "analyse a.xy --elements Cu,Sn --strict-elements"},
		{"a phase left out: those that were found are named, and what preparation left stays uncounted", nil, []session.Choice{leave("Cuprite")},
			"analyse a.xy --phase copper,sic-6h --aside sic-6h"},
		{"off and on", nil, []session.Choice{leave("cuprite"), include("cuprite")}, "analyse a.xy --phase copper,cuprite,sic-6h --aside sic-6h"},
		{"another one", nil, []session.Choice{include("tin")}, "analyse a.xy --phase copper,cuprite,sic-6h,tin --aside sic-6h"},
		{"counted after all", nil, []session.Choice{{Kind: session.Count, ID: "sic-6h"}}, "analyse a.xy --phase copper,cuprite,sic-6h"},
		{"what steers a search is not given when nothing is searched", session.Settings{"exclude": {"tin"}, "require": {"copper"}}, []session.Choice{leave("cuprite")},
			"analyse a.xy --phase copper,sic-6h --aside sic-6h"},
		{"and comes back with the next search", session.Settings{"exclude": {"tin"}}, []session.Choice{leave("cuprite"), {Kind: session.Search}}, "analyse a.xy --exclude tin"},
		{"two masks and a range", nil, []session.Choice{{Kind: session.Mask, Range: session.Span{30, 31.5}}, {Kind: session.Mask, Range: session.Span{40, 41}},
			{Kind: session.Set, Values: session.Settings{"range": {"20:90"}}}}, "analyse a.xy --range 20:90 --mask 30:31.5 --mask 40:41"},
		{"a setting taken back", session.Settings{"radiation": {"Co"}}, []session.Choice{{Kind: session.Set, Values: session.Settings{"radiation": {" "}}}}, "analyse a.xy"},
		{"phases that were named to begin with", session.Settings{"phase": {"copper", "tin"}, "aside": {"tin"}}, []session.Choice{leave("copper")},
			"analyse a.xy --phase tin --aside tin"},
	} {
		s := session.New("a.xy", c.given)
		for _, choice := range c.choices {
			require.NoError(t, s.Apply(choice, found), c.name)
		}
		assert.Equal(t, c.want, strings.Join(s.Args(), " "), c.name)
	}
}

func TestRefusedChoicesChangeNothing(t *testing.T) {
	s := session.New("a.xy", nil)
	require.NoError(t, s.Apply(leave("copper"), found))
	require.NoError(t, s.Apply(leave("cuprite"), found))
	before, err := json.Marshal(s)
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		choice session.Choice
		want   error
	}{
		{"the last phase", leave("sic-6h"), session.ErrNoPhase},
		{"no phase", leave(" "), session.ErrBadChoice},
		{"off already", leave("copper"), session.ErrNoChange},
		{"upside down", session.Choice{Kind: session.Mask, Range: session.Span{40, 30}}, session.ErrBadChoice},
		{"beyond the circle", session.Choice{Kind: session.Mask, Range: session.Span{40, 400}}, session.ErrBadChoice},
		{"where results go", session.Choice{Kind: session.Set, Values: session.Settings{"out": {"/tmp"}}}, session.ErrBadChoice},
		{"two tubes", session.Choice{Kind: session.Set, Values: session.Settings{"radiation": {"Cu", "Co"}}}, session.ErrBadChoice},
		{"two lines", session.Choice{Kind: session.Set, Values: session.Settings{"sample": {"a\nb"}}}, session.ErrBadChoice},
		{"no kind", session.Choice{Kind: "format"}, session.ErrBadChoice},
	} {
		assert.ErrorIs(t, s.Apply(c.choice, found), c.want, c.name)
		after, err := json.Marshal(s)
		require.NoError(t, err)
		assert.Equal(t, string(before), string(after), c.name)
	}
}

// randomChoice is any choice that a page might send.
func randomChoice(r *rand.Rand) session.Choice {
	ids := []string{"copper", "cuprite", "sic-6h", "tin", "quartz"}
	kinds := []session.Kind{session.Include, session.LeaveOut, session.Aside, session.Count}
	switch r.IntN(6) {
	case 0:
		lo := float64(20 + r.IntN(50))
		return session.Choice{Kind: session.Mask, Range: session.Span{lo, lo + 1}}
	case 1:
		return session.Choice{Kind: session.Set, Values: session.Settings{"radius": {string(rune('1' + r.IntN(9)))}}}
	case 2:
		return session.Choice{Kind: session.Search}
	}
	return session.Choice{Kind: kinds[r.IntN(len(kinds))], ID: ids[r.IntN(len(ids))]}
}

// Whatever is chosen, gone back on and chosen again: every state keeps its command line for ever, undo leads to the first one,
// redo leads back, and a session that is written and read is the same.
func TestAnyPathOfChoices(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 18))
		s := session.New("a.xy", session.Settings{"elements": {"Cu"}})
		lines := []string{s.Command()}
		for range 40 {
			switch r.IntN(5) {
			case 0:
				s.Undo()
			case 1:
				s.Redo()
			default:
				if err := s.Apply(randomChoice(r), found); err == nil {
					lines = append(lines, s.Command())
				}
			}
			assert.Equal(t, lines[s.At], s.Command(), "seed %d: a state has changed", seed)
		}
		require.Len(t, s.States, len(lines), "seed %d: a state was lost", seed)
		require.True(t, s.Sound(), "seed %d", seed)
		last, depth := s.At, 0
		for s.Undo() {
			depth++
		}
		assert.Equal(t, lines[0], s.Command(), "seed %d", seed)
		assert.Empty(t, s.Choices())
		s.Go(last)
		assert.Len(t, s.Choices(), depth, "seed %d", seed)
		text, err := json.Marshal(s)
		require.NoError(t, err)
		var again session.Session
		require.NoError(t, json.Unmarshal(text, &again))
		assert.True(t, again.Sound(), "seed %d", seed)
		for i := range s.States {
			assert.Equal(t, lines[i], "phasetally "+strings.Join(again.ArgsOf(i), " "), "seed %d, read back", seed)
		}
	}
}

func TestRedoTakesTheLatestBranch(t *testing.T) {
	s := session.New("a.xy", nil)
	require.NoError(t, s.Apply(leave("copper"), found))
	s.Undo()
	require.NoError(t, s.Apply(leave("cuprite"), found))
	s.Undo()
	require.True(t, s.Redo())
	assert.Equal(t, []string{"cuprite left out of the fit"}, s.Choices())
	assert.False(t, s.Redo())
	log := s.Log()
	require.Len(t, log, 3, "what was left is still in the log")
	assert.False(t, log[1].Onward)
	assert.True(t, log[2].Shown)
	require.True(t, s.Go(1), "and can be gone to")
	assert.Equal(t, []string{"copper left out of the fit"}, s.Choices())
	assert.False(t, s.Go(3))
}

func TestWithdraw(t *testing.T) {
	s := session.New("a.xy", nil)
	s.Withdraw(0)
	assert.Len(t, s.States, 1, "what was given stays")
	require.NoError(t, s.Apply(leave("copper"), found))
	require.NoError(t, s.Apply(leave("cuprite"), found))
	s.Withdraw(1)
	assert.Len(t, s.States, 3, "others rest on it")
	s.Withdraw(2)
	assert.Len(t, s.States, 2)
	assert.Equal(t, 1, s.At)
}

func TestBrokenSessionsAreSeen(t *testing.T) {
	for name, text := range map[string]string{
		"no scan":         `{"states":[{"parent":-1,"choice":{"kind":"start"}}]}`,
		"no state":        `{"scan":"a.xy"}`,
		"beyond the end":  `{"scan":"a.xy","states":[{"parent":-1}],"at":1}`,
		"before the end":  `{"scan":"a.xy","states":[{"parent":-1}],"at":-1}`,
		"a circle":        `{"scan":"a.xy","states":[{"parent":0}]}`,
		"no phase on":     `{"scan":"a.xy","states":[{"parent":-1,"phases":[{"id":"x"}]}]}`,
		"a foreign flag":  `{"scan":"a.xy","states":[{"parent":-1,"settings":{"out":["x"]}}]}`,
		"a foreign kind":  `{"scan":"a.xy","states":[{"parent":-1},{"parent":0,"choice":{"kind":"rm"}}]}`,
		"a second origin": `{"scan":"a.xy","states":[{"parent":-1},{"parent":-1,"choice":{"kind":"search"}}]}`,
	} {
		var s session.Session
		require.NoError(t, json.Unmarshal([]byte(text), &s), name)
		assert.False(t, s.Sound(), name)
	}
}

// A shell reads the words of the command as they were; the shell is the judge.
func TestCommandSurvivesAShell(t *testing.T) {
	shell, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("SKIPPED: no shell to ask, so quoting was NOT tested")
	}
	name := "it's \"a\" $HOME `x` \\ * ö.xy"
	s := session.New(name, session.Settings{"sample": {"two  blanks; and & more"}})
	out, err := exec.Command(shell, "-c", "phasetally() { for a in \"$@\"; do printf '%s\\n' \"$a\"; done; }; "+s.Command()).Output()
	require.NoError(t, err)
	assert.Equal(t, s.Args(), strings.Split(strings.TrimSuffix(string(out), "\n"), "\n"))
	assert.Equal(t, "./-odd.xy", session.New("-odd.xy", nil).Args()[1], "a name is no flag")
}

// A list is read back as it was, whatever is in a name.
func TestListsWithCommas(t *testing.T) {
	s := session.New("a.xy", session.Settings{"phase": {"a,b", `c"d`, "e"}})
	args := s.Args()
	got, err := csv.NewReader(strings.NewReader(args[slices.Index(args, "--phase")+1])).Read() // as lists of flags are read
	require.NoError(t, err)
	assert.Equal(t, []string{"a,b", `c"d`, "e"}, got)
}

// z of 80 ± 1.5 and 84 ± 2: 4/√(1.5² + 2²) = 1.6, exactly.
func TestCompare(t *testing.T) {
	w := func(v float64) *float64 { return &v }
	a := result.Document{Phases: []result.Phase{{ID: "copper", Name: "copper", WeightPercent: w(80)}, {ID: "tin", WeightPercent: nil}}, FractionCovariance: [][]float64{{2.25, 0}, {0, 1}}}
	b := result.Document{Phases: []result.Phase{{ID: "zincite", WeightPercent: w(1)}, {ID: "copper", WeightPercent: w(84)}}, FractionCovariance: [][]float64{{0, 0}, {0, 4}}}
	got := session.Compare(a, b)
	require.Len(t, got, 3)
	assert.Equal(t, "copper", got[0].ID)
	assert.InDelta(t, 1.6, *got[0].Z, 1e-12)
	assert.InDelta(t, 4, *got[0].Change, 1e-12)
	assert.Nil(t, got[1].A)
	assert.Nil(t, got[2].Z, "only in one of the two")
	assert.InDelta(t, 1, *got[2].B, 0)
}
