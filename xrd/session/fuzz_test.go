package session_test

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd/session"
)

// What is read back of a session is refused or holds: every state has a command line and words, and it is the same when it is written
// and read again.
func FuzzSession(f *testing.F) {
	s := session.New("a.xy", session.Settings{"elements": {"Cu"}})
	for _, c := range []session.Choice{leave("copper"), {Kind: session.Mask, Range: session.Span{1, 2}}, {Kind: session.Search, Values: session.Settings{"exclude": {"x"}}}} {
		if err := s.Apply(c, found); err != nil {
			f.Fatal(err)
		}
	}
	text, err := json.Marshal(s)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte(`{"scan":"-","states":[{"parent":-1,"settings":{"mask":["1:2"]},"phases":[{"id":"","on":true}]}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var s session.Session
		if json.Unmarshal(text, &s) != nil || !s.Sound() {
			return
		}
		for i := range s.States {
			require.GreaterOrEqual(t, len(s.ArgsOf(i)), 2)
		}
		require.Len(t, s.Log(), len(s.States))
		_ = s.Command()
		for s.Undo() {
		}
		again, err := json.Marshal(s)
		require.NoError(t, err)
		var back session.Session
		require.NoError(t, json.Unmarshal(again, &back))
		require.True(t, back.Sound())
		require.Equal(t, s.Args(), back.Args())
	})
}
