package main

import (
	"crypto/sha256"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// scanExtensions are those of files that count as scans when a folder is given.
var scanExtensions = []string{".xy", ".xye", ".dat", ".txt", ".csv", ".tsv", ".prn", ".asc", ".cif"}

// scans lists the scans of a series, and tells when one of them counts twice.
func (o *seriesOptions) scans(names []string, stderr io.Writer) ([]string, error) {
	files, err := scansIn(names, o.conditions)
	if o.share.Of > 0 || o.quiet { // the run that gathers tells it once
		return files, err
	}
	if a, b, found := twice(files); found {
		fmt.Fprintf(stderr, "phasetally: %s and %s are the same scan; both are analysed\n", a, b)
	}
	return files, err
}

// scansIn puts the scans of folders in the place of the folders, in order of name; the table of conditions is none.
func scansIn(names []string, conditions string) ([]string, error) {
	var files []string
	for _, name := range names {
		info, err := os.Stat(name)
		if err == nil && !info.IsDir() && !info.Mode().IsRegular() {
			return nil, fmt.Errorf("%s: is neither a file nor a folder; a series reads its scans again when it goes on, so save it as a file", name)
		}
		if err != nil || !info.IsDir() {
			files = append(files, name) // one that is not there is told when its turn comes
			continue
		}
		entries, err := os.ReadDir(name)
		if err != nil {
			return nil, noFile(err)
		}
		before := len(files)
		for _, e := range entries {
			file := filepath.Join(name, e.Name())
			if e.Type().IsRegular() && !strings.HasPrefix(e.Name(), ".") && !sameFile(file, conditions) &&
				slices.Contains(scanExtensions, strings.ToLower(filepath.Ext(file))) {
				files = append(files, file)
			}
		}
		if len(files) == before {
			return nil, fmt.Errorf("%s: no scan in the folder; scans end in %s", name, strings.Join(scanExtensions, ", "))
		}
	}
	return files, nil
}

func sameFile(a, b string) bool {
	x, errA := os.Stat(a)
	y, errB := os.Stat(b)
	return errA == nil && errB == nil && os.SameFile(x, y)
}

// twice returns the first two files that are one, or have the same content to the byte: a measurement that counts twice makes
// an answer look surer than it is. Only files of one size are read.
func twice(files []string) (a, b string, found bool) {
	bySize := map[int64][]string{}
	for _, file := range files {
		if info, err := os.Stat(file); err == nil && info.Mode().IsRegular() {
			bySize[info.Size()] = append(bySize[info.Size()], file)
		}
	}
	seen := map[[sha256.Size]byte]string{}
	for _, file := range files {
		info, err := os.Stat(file)
		if err != nil || len(bySize[info.Size()]) < 2 {
			continue
		}
		raw, err := os.ReadFile(file)
		if err != nil {
			continue
		}
		sum := sha256.Sum256(raw)
		if other, ok := seen[sum]; ok {
			return other, file, true
		}
		seen[sum] = file
	}
	return "", "", false
}
