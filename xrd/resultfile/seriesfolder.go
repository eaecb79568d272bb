package resultfile

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"unicode"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	"golang.org/x/sync/errgroup"

	"phasetally/xrd"
	"phasetally/xrd/analysis"
)

// SeriesMarker is the file whose presence says that a folder is that of a series.
const SeriesMarker = ".phasetally-series"

// ErrNotSeries says that a folder exists and is not that of a series; test with errors.Is.
var ErrNotSeries = errors.New("the folder is not that of a series")

const (
	seriesMarkerText = "phasetally.series-folder/1\n"
	scansFolder      = "scans"
	entryFile        = "series-entry.json"
)

// A SeriesFolder holds a series: a folder a scan under scans/, and the files of the whole beside it. Every scan's
// folder appears whole, with the entry that makes it unnecessary to analyse the scan again, so that a run that was
// killed goes on where it was.
type SeriesFolder struct {
	dir   string
	names []string // of the scans' folders
	again bool     // nothing of earlier runs counts

	make func() error // makes the folder, once, when there is something to keep
}

// OpenSeries goes on in a folder that a series has made, or will make a new one when there is something to keep. With
// again every scan is redone. Anything else under that name is a *FolderError.
func OpenSeries(dir string, files []string, again bool) (*SeriesFolder, error) {
	dir = filepath.Clean(dir)
	f := &SeriesFolder{dir: dir, names: folderNames(files), again: again, make: func() error { return nil }}
	info, err := os.Lstat(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		f.make = sync.OnceValue(f.create)
		return f, nil
	case err != nil:
		return nil, folderError(dir, err)
	case !info.IsDir():
		return nil, &FolderError{dir, ErrNotFolder, "choose another place with --out"}
	}
	if mark, err := os.ReadFile(filepath.Join(dir, SeriesMarker)); err != nil || string(mark) != seriesMarkerText {
		return nil, &FolderError{dir, ErrNotSeries, "choose another place with --out; it is never written to, not even with --force"}
	}
	return f, nil
}

// create makes the folder with its marker in one step.
func (f *SeriesFolder) create() error {
	d := osDisk{}
	parent := filepath.Dir(f.dir)
	if err := d.mkdirAll(parent); err != nil {
		return folderError(f.dir, err)
	}
	tmp, err := d.mkdirTemp(parent, "."+filepath.Base(f.dir)+"-partial-*")
	if err != nil {
		return folderError(f.dir, err)
	}
	defer d.removeAll(tmp)
	if err := fill(d, tmp, map[string][]byte{SeriesMarker: []byte(seriesMarkerText)}); err != nil {
		return folderError(f.dir, err)
	}
	if err := d.mkdirAll(filepath.Join(tmp, scansFolder)); err != nil {
		return folderError(f.dir, err)
	}
	if err := d.rename(tmp, f.dir); err != nil {
		return folderError(f.dir, err)
	}
	return d.syncDir(parent)
}

// folderNames gives every scan a folder of its own, named after its file with what could trouble a path or a link left
// out; equal names are told apart by the scan's number.
func folderNames(files []string) []string {
	out := make([]string, len(files))
	taken := map[string]bool{}
	for i, file := range files {
		base := filepath.Base(strings.ReplaceAll(file, `\`, "/"))
		name := strings.Trim(strings.Map(func(r rune) rune {
			if unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' || r == '.' {
				return r
			}
			return '-'
		}, strings.TrimSuffix(base, filepath.Ext(base))), "-.")
		if name == "" || len(name) > 100 {
			name = "scan"
		}
		stem := name
		for n := i + 1; taken[strings.ToLower(name)]; n++ {
			name = fmt.Sprintf("%s-%d", stem, n)
		}
		taken[strings.ToLower(name)] = true
		out[i] = name
	}
	return out
}

func (f *SeriesFolder) scan(i int) string { return filepath.Join(f.dir, scansFolder, f.names[i]) }

// Earlier returns the entry that an earlier run has kept for scan i, if everything it followed from is the same.
func (f *SeriesFolder) Earlier(i int, fingerprint string) (analysis.SeriesEntry, bool) {
	if f.again || fingerprint == "" {
		return analysis.SeriesEntry{}, false
	}
	raw, err := os.ReadFile(filepath.Join(f.scan(i), entryFile))
	if err != nil {
		return analysis.SeriesEntry{}, false
	}
	var e analysis.SeriesEntry
	if err := json.Unmarshal(raw, &e, jsontext.AllowInvalidUTF8(true)); err != nil || e.Fingerprint != fingerprint {
		return analysis.SeriesEntry{}, false
	}
	return e, true
}

// Keep writes the folder of scan i, replacing that of an earlier run, and notes in the entry where it lies.
func (f *SeriesFolder) Keep(i int, r analysis.Result, e *analysis.SeriesEntry, extra map[string][]byte) error {
	e.Folder = scansFolder + "/" + f.names[i]
	_, e.HasReport = extra["report.html"]
	raw, err := json.Marshal(e, json.WithMarshalers(numbers), json.Deterministic(true), jsontext.AllowInvalidUTF8(true), jsontext.WithIndent(" "))
	if err != nil {
		return fmt.Errorf("%s: %w", entryFile, err)
	}
	files := maps.Clone(extra)
	if files == nil {
		files = map[string][]byte{}
	}
	files[entryFile] = append(raw, '\n')
	if err := f.make(); err != nil {
		return err
	}
	return Write(f.scan(i), r, files, Options{Force: true})
}

// Result reads the whole result of scan i back.
func (f *SeriesFolder) Result(i int) (analysis.Result, error) { return Read(f.scan(i)) }

// Finish writes the files of the whole series, each whole or not at all: series.csv, series.parquet, series.json, and
// the extra ones (figures, series.html) by plain name.
func (f *SeriesFolder) Finish(s analysis.SeriesResult, extra map[string][]byte) error {
	files := maps.Clone(extra)
	if files == nil {
		files = map[string][]byte{}
	}
	for name := range files {
		if err := plainName(name); err != nil {
			return err
		}
	}
	var err error
	if files["series.json"], err = SeriesJSON(s); err != nil {
		return err
	}
	if files["series.parquet"], err = SeriesParquet(s); err != nil {
		return err
	}
	files["series.csv"] = SeriesCSV(s)
	if err := f.make(); err != nil {
		return err
	}
	var g errgroup.Group
	g.SetLimit(4) // each waits for the disk
	for _, name := range slices.Sorted(maps.Keys(files)) {
		g.Go(func() error { return WriteFile(filepath.Join(f.dir, name), files[name]) })
	}
	return g.Wait()
}

// SeriesJSON returns series.json: empty lists as [], everything unknown as null.
func SeriesJSON(s analysis.SeriesResult) ([]byte, error) {
	out, err := json.Marshal(s, json.WithMarshalers(numbers), json.Deterministic(true), jsontext.AllowInvalidUTF8(true), jsontext.WithIndent(" "))
	if err != nil {
		return nil, fmt.Errorf("series.json: %w", err)
	}
	return append(out, '\n'), nil
}

// ReadSeries reads series.json of a series folder back. Trouble in the file is a *xrd.SyntaxError.
func ReadSeries(dir string) (s analysis.SeriesResult, err error) {
	name := filepath.Join(dir, "series.json")
	raw, err := os.ReadFile(name)
	if err != nil {
		return s, &FolderError{dir, err, "give the folder that series wrote"}
	}
	err = json.Unmarshal(raw, &s, json.WithUnmarshalers(unknowns), jsontext.AllowInvalidUTF8(true))
	if err == nil && s.Schema != analysis.SeriesSchema {
		err = fmt.Errorf("schema %q, expected %q", s.Schema, analysis.SeriesSchema)
	}
	if err != nil {
		return s, &xrd.SyntaxError{File: name, Err: err, Fix: rewrite}
	}
	return s, nil
}
