package resultfile

import (
	"errors"

	"golang.org/x/sys/unix"
)

// exchange swaps two folders in one step, so that b is never absent; file systems without it get two renames.
func exchange(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOSYS) || errors.Is(err, unix.ENOTSUP) {
		return twoRenames(a, b)
	}
	return err
}
