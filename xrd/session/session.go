package session

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// A Phase is a phase that was chosen by hand.
type Phase struct {
	ID    string `json:"id"`    // of the reference
	On    bool   `json:"on"`    // part of the fit
	Aside bool   `json:"aside"` // fitted and not counted
}

// A State is what holds after a choice.
type State struct {
	Choice   Choice   `json:"choice"`   // that led to it
	Parent   int      `json:"parent"`   // the state in which it was chosen; -1 for the first
	Settings Settings `json:"settings"` // that are in force
	Phases   []Phase  `json:"phases"`   // by hand, in the order of the fit; null: they are searched for
}

// A Session is a scan with all that was chosen. States are never taken out of it: a choice after going back begins a branch,
// and what was left is still there to be gone to.
type Session struct {
	Scan   string  `json:"scan"`   // the file, as a command would name it
	States []State `json:"states"` // from the first on
	At     int     `json:"at"`     // the state that is shown
}

// New begins a session with what was given; phases are named where the setting "phase" is.
func New(scan string, given Settings) *Session {
	first := State{Choice: Choice{Kind: Start, Values: given}, Parent: -1, Settings: Settings{}.with(given)}
	for _, id := range first.Settings["phase"] {
		first.Phases = append(first.Phases, Phase{ID: id, On: true, Aside: contains(given["aside"], id)})
	}
	delete(first.Settings, "phase")
	if first.Phases != nil {
		delete(first.Settings, "aside")
	}
	return &Session{Scan: scan, States: []State{first}}
}

// Now returns the state that is shown.
func (s *Session) Now() State { return s.States[s.At] }

// Apply makes a choice in the state that is shown. The phases of the present answer, in its order, are those that are fitted
// from then on when the choice is the first about a phase after a search. On an error, nothing has changed.
func (s *Session) Apply(c Choice, found []Phase) error {
	if err := c.check(); err != nil {
		return err
	}
	now := s.Now()
	next := State{Choice: c, Parent: s.At, Settings: now.Settings, Phases: slices.Clone(now.Phases)}
	switch c.Kind {
	case Set:
		next.Settings = now.Settings.with(c.Values)
	case Mask:
		span := angle(c.Range[0]) + ":" + angle(c.Range[1])
		next.Settings = now.Settings.with(Settings{"mask": append(slices.Clone(now.Settings["mask"]), span)})
	case Search:
		next.Settings, next.Phases = now.Settings.with(c.Values), nil
	default:
		if next.Phases == nil {
			next.Phases = slices.Clone(found)
		}
		if next.Phases = chosen(next.Phases, c); len(next.On()) == 0 {
			return fmt.Errorf("%w; switch another phase on first, or have phases looked for again", ErrNoPhase)
		}
	}
	if c.Kind != Search && next.Settings.equal(now.Settings) && now.Phases != nil == (next.Phases != nil) && slices.Equal(next.Phases, now.Phases) {
		return ErrNoChange
	}
	s.States = append(s.States, next)
	s.At = len(s.States) - 1
	return nil
}

// chosen returns phases with a choice about one of them.
func chosen(phases []Phase, c Choice) []Phase {
	i := slices.IndexFunc(phases, func(p Phase) bool { return strings.EqualFold(p.ID, c.ID) })
	if i < 0 {
		i = len(phases)
		phases = append(phases, Phase{ID: c.ID, On: c.Kind != LeaveOut})
	}
	p := &phases[i]
	switch c.Kind {
	case Include:
		p.On = true
	case LeaveOut:
		p.On = false
	case Aside:
		p.On, p.Aside = true, true
	case Count:
		p.On, p.Aside = true, false
	}
	return phases
}

// On lists the phases by hand that are part of the fit.
func (s State) On() (on []Phase) {
	for _, p := range s.Phases {
		if p.On {
			on = append(on, p)
		}
	}
	return on
}

// Undo goes back to the state before the last choice; false at the first.
func (s *Session) Undo() bool {
	parent := s.Now().Parent
	if parent < 0 {
		return false
	}
	s.At = parent
	return true
}

// Redo goes to the latest of the states that were chosen from here; false when there is none.
func (s *Session) Redo() bool {
	next := s.child()
	if next < 0 {
		return false
	}
	s.At = next
	return true
}

// child is the latest state that was chosen in the one that is shown; -1 for none.
func (s *Session) child() int {
	for i := len(s.States) - 1; i > s.At; i-- {
		if s.States[i].Parent == s.At {
			return i
		}
	}
	return -1
}

// Go shows the state of a number; false without one.
func (s *Session) Go(state int) bool {
	if state < 0 || state >= len(s.States) {
		return false
	}
	s.At = state
	return true
}

// Withdraw takes back the last choice as if it had not been made: its analysis has failed. It does nothing to any other state.
func (s *Session) Withdraw(state int) {
	if last := len(s.States) - 1; state == last && last > 0 {
		if s.At == last {
			s.At = s.States[last].Parent
		}
		s.States = s.States[:last]
	}
}

// An Entry is a line of the log.
type Entry struct {
	State  int    // number of the state
	Words  string // what was done
	Onward bool   // it has led to what is shown; otherwise it was left by going back
	Shown  bool   // it is the state that is shown
}

// Log lists every choice in the order in which they were made.
func (s *Session) Log() []Entry {
	onward := map[int]bool{}
	for i := s.At; i >= 0; i = s.States[i].Parent {
		onward[i] = true
	}
	log := make([]Entry, len(s.States))
	for i, state := range s.States {
		log[i] = Entry{State: i, Words: state.Choice.Words(), Onward: onward[i], Shown: i == s.At}
	}
	return log
}

// Choices are the words of the choices that have led to what is shown, without what was given.
func (s *Session) Choices() []string {
	words := []string{}
	for _, e := range s.Log()[1:] {
		if e.Onward {
			words = append(words, e.Words)
		}
	}
	return words
}

// CanUndo and CanRedo tell whether there is where to go.
func (s *Session) CanUndo() bool { return s.Now().Parent >= 0 }

// CanRedo tells whether Redo would go anywhere.
func (s *Session) CanRedo() bool { return s.child() >= 0 }

// Sound tells whether a session that was read back is one that Apply could have made.
func (s *Session) Sound() bool {
	if s.Scan == "" || len(s.States) == 0 || s.At < 0 || s.At >= len(s.States) {
		return false
	}
	for i, state := range s.States {
		if state.Parent >= i || state.Parent < -1 || i > 0 && (state.Parent < 0 || state.Choice.check() != nil) || state.Settings.check() != nil {
			return false
		}
		if state.Phases != nil && len(state.On()) == 0 {
			return false
		}
	}
	return true
}

func contains(ids []string, id string) bool {
	return slices.ContainsFunc(ids, func(s string) bool { return strings.EqualFold(s, id) })
}

// angle prints degrees as briefly as they were chosen.
func angle(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
