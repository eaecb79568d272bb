package resultfile

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/sync/errgroup"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Marker is the file whose presence says that a folder was written here and may be replaced on request.
const Marker = ".phasetally-result"

// Why a folder cannot be written; test with errors.Is.
var (
	ErrExists    = errors.New("the folder exists")
	ErrNotOurs   = errors.New("the folder was not written by phasetally")
	ErrForeign   = errors.New("the folder holds files that phasetally did not write")
	ErrBadName   = errors.New("not a plain file name")
	ErrNotFolder = errors.New("not a folder")
)

// A FolderError says which folder could not be written, why, and what to do; recover it with errors.As.
type FolderError struct {
	Folder string // as it was given
	Err    error  // what is wrong with it
	Fix    string // what to do
}

// Error gives one line: folder: what; what to do.
func (e *FolderError) Error() string {
	why, _, _ := strings.Cut(e.Err.Error(), "\n") // one trouble is enough to know
	return fmt.Sprintf("%s: %s; %s", e.Folder, why, e.Fix)
}

// Unwrap returns the cause.
func (e *FolderError) Unwrap() error { return e.Err }

// Options steers Write; its zero value never replaces anything.
type Options struct {
	Force bool   // replace an existing folder that carries the marker
	CSV   Locale // of the CSV files

	adopt bool // and one that has lost it, if it holds nothing but what is written there
}

// marker is the content of the marker file.
type marker struct {
	Schema  string   `json:"schema"`
	Version string   `json:"version"`
	Files   []string `json:"files"` // every other file of the folder

	Sums map[string]string `json:"sums"` // of each, length and checksum
}

const markerSchema = "phasetally.folder/1"

// Write writes the whole folder: the five files that follow from the result, the extra files handed in by plain name
// (figures, report), and the marker. It returns a *FolderError when dir exists and may not be replaced; whatever goes
// wrong, under the name dir there is afterwards either what was there before or the whole new result.
func Write(dir string, result result.Analysis, extra map[string][]byte, o Options) error {
	sweepBeside(filepath.Clean(dir))
	return write(osDisk{}, dir, result, extra, o)
}

func write(d disk, dir string, result result.Analysis, extra map[string][]byte, o Options) error {
	dir = filepath.Clean(dir)
	exists, refusal := replaceable(dir, o.Force)
	if refusal != nil && !o.adopt {
		return refusal
	}
	files, err := contents(result, extra, o.CSV)
	if err != nil {
		return err
	}
	if damaged := errors.Is(refusal, ErrNotOurs) || errors.Is(refusal, ErrForeign); refusal != nil && !(damaged && onlyOurs(dir, files)) {
		return refusal
	}
	parent, base := filepath.Dir(dir), filepath.Base(dir)
	if err := d.mkdirAll(parent); err != nil {
		return folderError(dir, err)
	}
	tmp, err := d.mkdirTemp(parent, "."+base+"-partial-*")
	if err != nil {
		return folderError(dir, err)
	}
	defer d.removeAll(tmp) // after a success this is the old folder, or nothing
	if err := fill(d, tmp, files); err != nil {
		return folderError(dir, err)
	}
	swap := d.rename
	if exists {
		swap = d.exchange
	}
	err = swap(tmp, dir)
	if errors.Is(err, fs.ErrExist) && !exists { // another run has written it meanwhile
		if _, refusal := replaceable(dir, o.Force); refusal != nil {
			return refusal
		}
		err = d.exchange(tmp, dir)
	}
	if err != nil {
		return folderError(dir, err)
	}
	if err := d.syncDir(parent); err != nil {
		return folderError(dir, err)
	}
	return nil
}

// fill writes every file into a folder and makes sure that all of it is on the disk.
func fill(d disk, dir string, files map[string][]byte) error {
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := d.write(filepath.Join(dir, name), Bytes(files[name])); err != nil {
			return err
		}
	}
	return d.syncDir(dir)
}

func folderError(dir string, err error) error {
	return &FolderError{dir, err, "check the free space and your permission there, or choose another place with --out"}
}

// contents gives every file of the folder by name.
func contents(result result.Analysis, extra map[string][]byte, l Locale) (map[string][]byte, error) {
	files := make(map[string][]byte, len(extra)+6)
	for name, data := range extra {
		if err := plainName(name); err != nil {
			return nil, err
		}
		files[name] = data
	}
	var document, fit, exchange []byte
	var g errgroup.Group // the three long ones take as long as everything else together
	g.Go(func() (err error) { exchange, err = CIF(result); return err })
	g.Go(func() (err error) { fit, err = FitCSV(result.Document, result.Curves); return err })
	g.Go(func() (err error) { document, err = JSON(result.Document); return err })
	if err := g.Wait(); err != nil {
		return nil, err
	}
	files["analysis.json"], files["fit.csv"], files["analysis.cif"] = document, fit, exchange
	files["fractions.csv"], files["peaks.csv"] = FractionsCSV(result.Document), PeaksCSV(result.Document)
	for name := range files {
		if filepath.Ext(name) == ".csv" {
			files[name] = Localised(files[name], l)
		}
	}
	sums := map[string]string{}
	for name, data := range files {
		sums[name] = fileSum(data)
	}
	mark, err := json.MarshalIndent(marker{markerSchema, result.Document.Provenance.Version, slices.Sorted(maps.Keys(files)), sums}, "", " ")
	files[Marker] = append(mark, '\n')
	return files, err
}

// plainName refuses names that would leave the folder or hide the marker.
func plainName(name string) error {
	if !filepath.IsLocal(name) || name != filepath.Base(name) || strings.HasPrefix(name, ".") || strings.ContainsRune(name, '\\') {
		return fmt.Errorf("%w: %q", ErrBadName, name)
	}
	return nil
}

// Replaceable says before any work is done whether Write would accept dir; it returns a *FolderError if not.
func Replaceable(dir string, force bool) error {
	_, err := replaceable(filepath.Clean(dir), force)
	return err
}

func replaceable(dir string, force bool) (exists bool, err error) {
	info, err := os.Lstat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, folderError(dir, err)
	case !info.IsDir():
		return true, &FolderError{dir, ErrNotFolder, "choose another place with --out"}
	}
	mark, err := readMarker(dir)
	switch {
	case err != nil:
		return true, &FolderError{dir, ErrNotOurs, "choose another place with --out; it is never replaced, not even with --force"}
	case !force:
		return true, &FolderError{dir, ErrExists, "give --force to replace it, or choose another place with --out"}
	}
	return true, foreign(dir, mark)
}

func readMarker(dir string) (m marker, err error) {
	raw, err := os.ReadFile(filepath.Join(dir, Marker))
	if err != nil {
		return m, err
	}
	if err := json.Unmarshal(raw, &m); err != nil {
		return m, err
	}
	if m.Schema != markerSchema {
		return m, fmt.Errorf("marker schema %q", m.Schema)
	}
	return m, nil
}

// foreign guards what a user has put beside our files: replacing the folder would delete it.
func foreign(dir string, m marker) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return folderError(dir, err)
	}
	for _, e := range entries {
		if e.Name() != Marker && !slices.Contains(m.Files, e.Name()) {
			return &FolderError{dir, fmt.Errorf("%w: %q", ErrForeign, e.Name()),
				"move it elsewhere first, or choose another place with --out"}
		}
	}
	return nil
}

// Read reads analysis.json and fit.csv of a result folder back. Trouble in a file is a *xrd.SyntaxError.
func Read(dir string) (result.Analysis, error) {
	name := filepath.Join(dir, "analysis.json")
	raw, err := os.ReadFile(name)
	if err != nil {
		fix := "give the folder that an analysis wrote"
		if _, ofSeries := os.Stat(filepath.Join(dir, "series.json")); ofSeries == nil {
			fix = "this is the folder of a series: give --kind trend, stack or difference, or one of the folders in " + scansFolder
		}
		return result.Analysis{}, &FolderError{dir, err, fix}
	}
	doc, err := parseDocument(raw)
	if err != nil {
		return result.Analysis{}, &xrd.SyntaxError{File: name, Err: err, Fix: rewrite}
	}
	name = filepath.Join(dir, "fit.csv")
	if raw, err = os.ReadFile(name); err != nil {
		return result.Analysis{}, &FolderError{dir, err, "give the folder that an analysis wrote"}
	}
	curves, err := parseFit(raw, name, len(doc.Phases))
	if err == nil && len(curves.TwoTheta) != doc.Scan.Points {
		err = &xrd.SyntaxError{File: name, Err: errRows, Fix: rewrite}
	}
	return result.Analysis{Document: doc, Curves: curves}, err
}
