//go:build unix && !solaris && !aix

package resultfile

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lock takes a file for this process until it is closed or the process ends, however it ends; busy when another has it.
// Any number may have it together with others.
func lock(name string, together bool) (f *os.File, busy bool, err error) {
	how := unix.LOCK_EX
	if together {
		how = unix.LOCK_SH
	}
	if f, err = os.Open(name); err != nil {
		return nil, false, err
	}
	err = unix.Flock(int(f.Fd()), how|unix.LOCK_NB)
	if err == nil {
		return f, false, nil
	}
	f.Close()
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, true, nil
	}
	return nil, false, nil // a file system without locks must not keep anyone from working
}
