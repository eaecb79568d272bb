package session

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// A Kind says what a choice is about.
type Kind string

// The kinds of choices.
const (
	Start    Kind = "start"    // what was given to begin with
	Include  Kind = "include"  // a phase joins the fit, or comes back
	LeaveOut Kind = "leaveout" // a phase is left out of the fit
	Aside    Kind = "aside"    // a phase is fitted and not counted: preparation has left it
	Count    Kind = "count"    // a phase is counted again
	Set      Kind = "set"      // settings are given new values
	Mask     Kind = "mask"     // a range of the scan is left out beside those that are already
	Search   Kind = "search"   // phases are looked for again, with new settings if there are any
)

// A Choice is one thing that was chosen.
type Choice struct {
	Kind   Kind     `json:"kind"`            // what was chosen
	ID     string   `json:"id,omitempty"`    // of the phase
	Values Settings `json:"set,omitempty"`   // of Set and Search; an empty list takes a setting back
	Range  Span     `json:"range,omitempty"` // of Mask
}

// A Span is a range of the scan, degrees 2θ, the lower end first.
type Span [2]float64

// Settings are what steers an analysis beside its phases: flags of the command line by name, with their values in order.
type Settings map[string][]string

// Errors of Apply; test with errors.Is.
var (
	ErrNoPhase   = errors.New("no phase would be left to fit")
	ErrBadChoice = errors.New("this choice is not understood")
	ErrNoChange  = errors.New("this choice changes nothing")
)

// Bounds of what one choice may hold: far beyond what anybody types.
const (
	maxValues = 200
	maxLetter = 2000
)

// check refuses what no page of ours would send.
func (c Choice) check() error {
	switch c.Kind {
	case Include, LeaveOut, Aside, Count:
		if strings.TrimSpace(c.ID) == "" || len(c.ID) > maxLetter {
			return fmt.Errorf("%w: name a phase", ErrBadChoice)
		}
	case Mask:
		if !(c.Range[0] >= 0 && c.Range[0] < c.Range[1] && c.Range[1] <= 180) {
			return fmt.Errorf("%w: give two angles between 0° and 180° 2θ, the lower one first", ErrBadChoice)
		}
	case Set, Search:
		return c.Values.check()
	default:
		return fmt.Errorf("%w: %.40q", ErrBadChoice, c.Kind)
	}
	return nil
}

func (s Settings) check() error {
	for _, name := range slices.Sorted(maps.Keys(s)) {
		f, known := FieldOf(name)
		if !known {
			return fmt.Errorf("%w: there is no setting %.40q", ErrBadChoice, name)
		}
		values := s[name]
		if len(values) > maxValues || len(values) > 1 && !f.Several() {
			return fmt.Errorf("%w: %s takes fewer values", ErrBadChoice, f.Label)
		}
		for _, v := range values {
			if len(v) > maxLetter || strings.ContainsFunc(v, func(r rune) bool { return r < ' ' }) {
				return fmt.Errorf("%w: %s: give plain text on one line", ErrBadChoice, f.Label)
			}
		}
	}
	return nil
}

// Words says what was chosen, in words of the log.
func (c Choice) Words() string {
	switch c.Kind {
	case Include:
		return c.ID + " taken into the fit"
	case LeaveOut:
		return c.ID + " left out of the fit"
	case Aside:
		return c.ID + " not counted, as left by preparation"
	case Count:
		return c.ID + " counted as the specimen's own"
	case Mask:
		return fmt.Sprintf("%s° to %s° 2θ left out", angle(c.Range[0]), angle(c.Range[1]))
	case Set:
		return c.Values.words()
	case Search:
		if len(c.Values) == 0 {
			return "phases looked for again"
		}
		return "phases looked for again with " + c.Values.words()
	}
	if len(c.Values) == 0 {
		return "the scan as it is"
	}
	return "the scan with " + c.Values.words()
}

func (s Settings) words() string {
	var parts []string
	for _, f := range append(Fields(), phaseField, asideField) {
		values, there := s[f.Name]
		switch {
		case !there:
		case len(values) == 0:
			parts = append(parts, strings.ToLower(f.Label[:1])+f.Label[1:]+" no longer given")
		case f.Kind == Switch:
			parts = append(parts, strings.ToLower(f.Label[:1])+f.Label[1:])
		default:
			s := strings.ToLower(f.Label[:1]) + f.Label[1:] + " " + strings.Join(values, ", ")
			if f.Unit != "" {
				s += " " + f.Unit
			}
			parts = append(parts, s)
		}
	}
	return strings.Join(parts, "; ")
}

// with returns settings with some of them replaced; an empty list takes one away.
func (s Settings) with(other Settings) Settings {
	out := maps.Clone(s)
	if out == nil {
		out = Settings{}
	}
	for name, values := range other {
		values = slices.DeleteFunc(slices.Clone(values), func(v string) bool { return strings.TrimSpace(v) == "" })
		if len(values) == 0 {
			delete(out, name)
			continue
		}
		out[name] = values
	}
	return out
}

func (s Settings) equal(other Settings) bool {
	return maps.EqualFunc(s, other, func(a, b []string) bool { return slices.Equal(a, b) })
}
