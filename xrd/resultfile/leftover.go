package resultfile

import (
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// partialMarker lies in a folder of files that are about to be put in their places one by one.
const partialMarker = ".phasetally-partial"

// isMark tells whether a file says by its name alone that the folder it lies in is ours.
func isMark(name string) bool {
	return slices.Contains([]string{Marker, SeriesMarker, partialMarker}, name)
}

// leftover tells whether a hidden folder is what a run of ours that was killed has left: it has a name of that kind and
// is empty or carries a mark of ours, and there is nothing in it that we would not put there.
func leftover(path string) bool {
	name := filepath.Base(path)
	info, err := os.Lstat(path)
	if err != nil || !info.IsDir() || !strings.HasPrefix(name, ".") || !strings.Contains(name, partial) {
		return false
	}
	entries, err := os.ReadDir(path)
	if err != nil {
		return false
	}
	marked := len(entries) == 0
	for _, e := range entries {
		switch {
		case e.Type().IsRegular() && isMark(e.Name()):
			marked = true
		case e.IsDir():
			if inside, err := os.ReadDir(filepath.Join(path, e.Name())); e.Name() != scansFolder || err != nil || len(inside) > 0 {
				return false
			}
		case !e.Type().IsRegular():
			return false
		}
	}
	return marked
}

// abandoned is the age from which what an unknown run has left is surely of one that is dead: writing a folder takes
// seconds.
const abandoned = time.Hour

// sweepBeside removes what killed runs have left of the folder dir.
func sweepBeside(dir string) {
	found, _ := filepath.Glob(filepath.Join(quoteGlob(filepath.Dir(dir)), "."+quoteGlob(filepath.Base(dir))+partial+"*"))
	for _, path := range found {
		if info, err := os.Lstat(path); err == nil && time.Since(info.ModTime()) > abandoned && leftover(path) {
			osDisk{}.removeAll(path)
		}
	}
}

func quoteGlob(s string) string {
	return strings.NewReplacer(`*`, `\*`, `?`, `\?`, `[`, `\[`, `\`, `\\`).Replace(s)
}

// fileSum tells whether a file is the one that was written.
func fileSum(data []byte) string { return fmt.Sprintf("%d-%08x", len(data), crc32.ChecksumIEEE(data)) }

// intact tells whether a folder holds what was written: every file in its length, and those that are read again byte for
// byte.
func intact(dir string, again ...string) bool {
	m, err := readMarker(dir)
	if err != nil {
		return false
	}
	for _, name := range m.Files {
		want, known := m.Sums[name]
		info, err := os.Lstat(filepath.Join(dir, name))
		if err != nil || !known || !info.Mode().IsRegular() || !strings.HasPrefix(want, fmt.Sprintf("%d-", info.Size())) {
			return false
		}
	}
	for _, name := range again {
		raw, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil || m.Sums[name] != fileSum(raw) {
			return false
		}
	}
	return true
}

// onlyOurs tells whether a folder holds nothing but files of these names and figures, as one does that has lost its mark.
func onlyOurs(dir string, files map[string][]byte) bool {
	entries, err := os.ReadDir(dir)
	return err == nil && !slices.ContainsFunc(entries, func(e os.DirEntry) bool {
		_, ok := files[e.Name()]
		stem := strings.TrimSuffix(e.Name(), filepath.Ext(e.Name()))
		_, figure := FigureMark(e.Name())
		ok = ok || e.Name() == "report.html" || figure && (stem == "pattern" || stem == "fractions")
		return !ok || !e.Type().IsRegular()
	})
}
