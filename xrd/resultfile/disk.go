package resultfile

import (
	"bufio"
	"errors"
	"os"
	"path/filepath"
	"runtime"
)

// disk is what Write asks of the file system; tests hand in one that fails or dies at a chosen step.
type disk interface {
	mkdirAll(dir string) error
	mkdirTemp(parent, pattern string) (string, error)
	write(name string, content FileWriter) error
	syncDir(dir string) error
	rename(from, to string) error
	link(from, to string) error
	exchange(a, b string) error
	removeAll(dir string)
}

type osDisk struct{}

func (osDisk) mkdirAll(dir string) error { return os.MkdirAll(dir, 0o755) }

// mkdirTemp gives the folder the permissions of any new one; os.MkdirTemp makes it private.
func (osDisk) mkdirTemp(parent, pattern string) (string, error) {
	dir, err := os.MkdirTemp(parent, pattern)
	if err != nil {
		return "", err
	}
	return dir, os.Chmod(dir, 0o755)
}

// write makes a new file and sees that all of it is on the disk.
func (osDisk) write(name string, content FileWriter) error {
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<18)
	err = content(w)
	return errors.Join(err, w.Flush(), f.Sync(), f.Close())
}

// syncDir sees that the names in a folder are on the disk. Windows has no such request for folders and refuses it.
func (osDisk) syncDir(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func (osDisk) rename(from, to string) error { return os.Rename(from, to) }

// link gives a file a second name unless that is taken, in one step.
func (osDisk) link(from, to string) error { return os.Link(from, to) }

func (osDisk) exchange(a, b string) error { return exchange(a, b) }

// removeAll takes the marks last: what is left when it is cut off is known to be ours. Everything goes by a call of its own,
// since os.RemoveAll of a folder with files asks Windows for what its older versions refuse.
func (osDisk) removeAll(dir string) {
	entries, _ := os.ReadDir(dir)
	for _, marks := range []bool{false, true} {
		for _, e := range entries {
			if isMark(e.Name()) == marks {
				_ = os.RemoveAll(filepath.Join(dir, e.Name()))
			}
		}
	}
	_ = os.RemoveAll(dir)
}

// twoRenames exchanges two folders where the system cannot do it in one step: between the renames the name b is
// absent, never half-filled, and the older folder lies beside it under a name that says so.
func twoRenames(a, b string) error {
	aside := filepath.Join(filepath.Dir(b), "."+filepath.Base(b)+"-replaced")
	if err := os.Rename(b, aside); err != nil {
		return err
	}
	if err := os.Rename(a, b); err != nil {
		return errors.Join(err, os.Rename(aside, b))
	}
	return os.Rename(aside, a)
}
