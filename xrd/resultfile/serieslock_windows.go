package resultfile

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

// lockedByte is what stands for the file: far behind its end, for what is locked on Windows cannot be read by others.
const lockedByte = 1 << 30

// lock takes a file for this process until it is closed or the process ends, however it ends; busy when another has it.
// Any number may have it together with others.
func lock(name string, together bool) (f *os.File, busy bool, err error) {
	how := uint32(windows.LOCKFILE_FAIL_IMMEDIATELY)
	if !together {
		how |= windows.LOCKFILE_EXCLUSIVE_LOCK
	}
	if f, err = os.Open(name); err != nil {
		return nil, false, err
	}
	err = windows.LockFileEx(windows.Handle(f.Fd()), how, 0, 1, 0, &windows.Overlapped{Offset: lockedByte})
	if err == nil {
		return f, false, nil
	}
	f.Close()
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) || errors.Is(err, windows.ERROR_IO_PENDING) {
		return nil, true, nil
	}
	return nil, false, nil // a file system without locks must not keep anyone from working
}
