package session

import (
	"encoding/csv"
	"slices"
	"strings"
)

// Args are the arguments of the command whose answer is that of the state that is shown.
func (s *Session) Args() []string { return s.ArgsOf(s.At) }

// ArgsOf are those of a state by its number.
func (s *Session) ArgsOf(state int) []string {
	now := s.States[state]
	scan := s.Scan
	if strings.HasPrefix(scan, "-") {
		scan = "./" + scan
	}
	args := []string{"analyse", scan}
	settings := now.Settings
	if now.Phases != nil {
		var ids, aside []string
		for _, p := range now.On() {
			ids = append(ids, p.ID)
			if p.Aside {
				aside = append(aside, p.ID)
			}
		}
		settings = settings.with(Settings{"phase": ids, "aside": aside, "require": nil, "exclude": nil}) // of a search only
	}
	for _, f := range append(Fields(), phaseField, asideField) {
		args = append(args, f.flags(settings[f.Name])...)
	}
	return args
}

// phaseField and asideField are settings that choices about phases make.
var (
	phaseField = Field{Name: "phase", Label: "Phases", Kind: List}
	asideField = Field{Name: "aside", Label: "Not counted", Kind: List}
)

// flags writes a setting as a command line has it.
func (f Field) flags(values []string) (args []string) {
	switch {
	case len(values) == 0:
	case f.Kind == Switch:
		return []string{"--" + f.Name}
	case f.Kind == List:
		return []string{"--" + f.Name, commaList(values)}
	}
	for _, v := range values {
		args = append(args, "--"+f.Name, v)
	}
	return args
}

// commaList joins values as flags of lists are read: comma-separated, those with commas or quotes in quotes.
func commaList(values []string) string {
	var b strings.Builder
	w := csv.NewWriter(&b)
	_ = w.Write(values) // a string takes everything
	w.Flush()
	return strings.TrimSuffix(b.String(), "\n")
}

// Command is the command line of the state that is shown, to be copied into a shell.
func (s *Session) Command() string {
	words := []string{"phasetally"}
	for _, a := range s.Args() {
		words = append(words, quoted(a))
	}
	return strings.Join(words, " ")
}

// plainLetters need no quotes in any shell.
const plainLetters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-./:,=+@%"

// quoted writes a word so that a POSIX shell reads it as it is.
func quoted(word string) string {
	if word != "" && !slices.ContainsFunc([]rune(word), func(r rune) bool { return !strings.ContainsRune(plainLetters, r) }) {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
