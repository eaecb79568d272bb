package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"phasetally/refdata/library"
)

// mostTold is how many problems with reference data are told one by one.
const mostTold = 20

// tellProblems says which files and phases were skipped, and what of others was not used.
func tellProblems(w io.Writer, problems []library.Problem) {
	for i, p := range problems {
		if i == mostTold {
			fmt.Fprintf(w, "phasetally: %d more like these; 'phasetally library check' tells all\n", len(problems)-i)
			return
		}
		word := "skipped"
		if p.Note {
			word = "note"
		}
		fmt.Fprintf(w, "phasetally: %s: %s\n", word, p)
	}
}

// troubles are all things that are wrong with a command, told at once: whoever has mended one is not met by the next.
type troubles []error

// note adds an error that is one.
func (t *troubles) note(err error) {
	var more troubles
	switch {
	case err == nil:
	case errors.As(err, &more):
		*t = append(*t, more...)
	default:
		*t = append(*t, err)
	}
}

// err is nil without trouble, and the error itself when there is only one.
func (t troubles) err() error {
	switch len(t) {
	case 0:
		return nil
	case 1:
		return t[0]
	}
	return t
}

// Error gives one line an error, each once.
func (t troubles) Error() string {
	var lines []string
	for _, err := range t {
		if text := strings.TrimSpace(err.Error()); !slices.Contains(lines, text) {
			lines = append(lines, text)
		}
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.Is and errors.As look at each.
func (t troubles) Unwrap() []error { return t }
