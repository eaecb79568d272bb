package library

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// A built file says in the head that every SQLite file has whose it is and which layout it has: big-endian numbers at
// these offsets (SQLite, "Database File Format", 1.3).
const (
	magic         = "SQLite format 3\x00"
	layoutAt      = 60         // "user version"
	applicationAt = 68         // "application ID"
	application   = 0x50487479 // "PHty"
	layout        = 4          // of the tables, their blobs and checksums
)

// Why a file is left alone; test with errors.Is.
var (
	ErrLayout      = errors.New("the library has another layout than this version makes")
	ErrDamaged     = errors.New("the library is damaged; build it again")
	ErrForeignPart = errors.New("not an unfinished library of this program; move it away or choose another name")
)

// A mark is what the head of a file says.
type mark int

const (
	absent mark = iota
	empty       // no byte, as a build leaves that was killed at once
	foreign
	otherLayout
	ours
)

// markOf reads the head of a file. What is no plain file (folder, device, pipe) is foreign and not opened.
func markOf(path string) (mark, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return absent, nil
	case err != nil:
		return foreign, err
	case !info.Mode().IsRegular():
		return foreign, nil
	case info.Size() == 0:
		return empty, nil
	}
	f, err := os.Open(path)
	if err != nil {
		return foreign, err
	}
	defer func() { _ = f.Close() }()
	head := make([]byte, 100)
	if _, err := io.ReadFull(f, head); err != nil || string(head[:len(magic)]) != magic ||
		binary.BigEndian.Uint32(head[applicationAt:]) != application {
		return foreign, nil
	}
	if binary.BigEndian.Uint32(head[layoutAt:]) != layout {
		return otherLayout, nil
	}
	return ours, nil
}

// isBuilt tells whether a file is a database, so that reading it as text makes no sense.
func isBuilt(path string) bool {
	if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
		return false
	}
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer func() { _ = f.Close() }()
	head := make([]byte, len(magic))
	n, _ := io.ReadFull(f, head)
	return string(head[:n]) == magic
}

// mayReplace refuses a name under which anything but a library of this layout lies; the error says what to do.
func mayReplace(dst string) (exists bool, err error) {
	switch m, err := markOf(dst); {
	case err != nil:
		return false, err
	case m == otherLayout:
		return true, fmt.Errorf("%s: %w; it is left as it is: choose another name", dst, ErrLayout)
	case m == ours:
		return true, nil
	case m == absent:
		return false, nil
	}
	return true, fmt.Errorf("%s: %w; it is left as it is: choose another name", dst, ErrNotLibrary)
}

// mayResume tells whether the unfinished file of an earlier build is there, and refuses anything else under its name.
func mayResume(part string) (exists bool, err error) {
	for _, name := range []string{part, part + "-journal"} {
		if info, err := os.Lstat(name); err == nil && !info.Mode().IsRegular() {
			return false, fmt.Errorf("%s: %w", name, ErrForeignPart)
		}
	}
	switch m, err := markOf(part); {
	case err != nil:
		return false, err
	case m == foreign || m == otherLayout:
		return true, fmt.Errorf("%s: %w", part, ErrForeignPart)
	case m != absent:
		return true, nil
	}
	if _, err := os.Lstat(part + "-journal"); err == nil { // the database would take it for its own and delete it
		return false, fmt.Errorf("%s-journal: %w", part, ErrForeignPart)
	}
	return false, nil
}
