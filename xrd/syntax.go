package xrd

import "fmt"

// A SyntaxError says where a file is wrong, what is wrong there and what to do about it. Every reader of the project
// returns it for input that it refuses; recover it with errors.As.
type SyntaxError struct {
	File string // as the user wrote it
	Line int    // counted from 1; 0 when the trouble is with the whole file
	Err  error  // what is wrong
	Fix  string // what to do
}

// Error gives one line: file:line: what; what to do.
func (e *SyntaxError) Error() string {
	what := OneLine(fmt.Sprint(e.Err))
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s; %s", e.File, what, e.Fix)
	}
	return fmt.Sprintf("%s:%d: %s; %s", e.File, e.Line, what, e.Fix)
}

// Unwrap returns the cause.
func (e *SyntaxError) Unwrap() error { return e.Err }
