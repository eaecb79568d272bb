package resultfile

import (
	"errors"
	"os"
)

// ErrHeld says that another process holds a file; test with errors.Is.
var ErrHeld = errors.New("another phasetally is at work there")

// Hold takes a file, which is made when it is not there, for this process until release is called or the process ends, however it
// ends. It returns ErrHeld when another process has it. Where a file system has no locks, nobody is kept from working.
func Hold(name string) (release func(), err error) {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_RDONLY, 0o644)
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	held, busy, err := lock(name, false)
	switch {
	case err != nil:
		return nil, err
	case busy:
		return nil, ErrHeld
	case held == nil:
		return func() {}, nil
	}
	return func() { _ = held.Close() }, nil
}
