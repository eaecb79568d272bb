//go:build unix && !solaris && !aix

package resultfile

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lock takes a file for this process until it is closed or the process ends, however it ends; busy when another has it.
func lock(name string) (f *os.File, busy bool, err error) {
	if f, err = os.Open(name); err != nil {
		return nil, false, err
	}
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if err == nil {
		return f, false, nil
	}
	f.Close()
	if errors.Is(err, unix.EWOULDBLOCK) {
		return nil, true, nil
	}
	return nil, false, nil // a file system without locks must not keep anyone from working
}
