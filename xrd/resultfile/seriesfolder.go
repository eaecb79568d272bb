package resultfile

import (
	"errors"
	"fmt"
	"io"
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

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// SeriesMarker is the file whose presence says that a folder is that of a series.
const SeriesMarker = ".phasetally-series"

// Why a folder of a series cannot be used; test with errors.Is.
var (
	ErrNotSeries = errors.New("the folder is not that of a series")
	ErrBusy      = errors.New("another run is writing to this folder")
)

const (
	seriesMarkerText = "phasetally.series-folder/1\n"
	scansFolder      = "scans"
	entryFile        = "series-entry.json"
	phasesFile       = "series-phases.json"
	partial          = "-partial-" // part of the names of what is not finished
)

// A SeriesFolder holds a series: a folder a scan under scans/, and the files of the whole beside it. Every scan's
// folder appears whole, with the entry that makes it unnecessary to analyse the scan again, so that a run that was
// killed goes on where it was. One run at a time may use it, or any number of shares of one series; Close ends that.
type SeriesFolder struct {
	CSV Locale // of the CSV files that are written from now on

	dir   string
	names []string // of the scans' folders
	again bool     // nothing of earlier runs counts
	share int      // number of the share of the series that this run does; 0: it does all of it
	held  *os.File // the marker, locked; nil until the folder is there
	disk  disk

	make func() error // makes the folder, once, when there is something to keep
}

// OpenSeries goes on in a folder that a series has made, or will make a new one when there is something to keep. With
// again every scan is redone. Anything else under that name is a *FolderError, as is a folder that another run uses.
func OpenSeries(dir string, files []string, again bool) (*SeriesFolder, error) {
	return openSeries(&SeriesFolder{dir: dir, names: folderNames(files), again: again, disk: osDisk{}})
}

// OpenShare goes on in a folder, or will make a new one, together with other shares of the same series, each with a number
// from 1. They need nothing of each other but the disk: whatever two of them do at once, each file is there whole. A
// *FolderError says that a run which is no share uses the folder.
func OpenShare(dir string, files []string, number int) (*SeriesFolder, error) {
	return openSeries(&SeriesFolder{dir: dir, names: folderNames(files), share: number, disk: osDisk{}})
}

func openSeries(f *SeriesFolder) (*SeriesFolder, error) {
	dir := filepath.Clean(f.dir)
	f.dir, f.make = dir, func() error { return nil }
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
	if !isSeries(dir) {
		return nil, &FolderError{dir, ErrNotSeries, "choose another place with --out; it is never written to, not even with --force"}
	}
	if err := f.hold(); err != nil {
		return nil, err
	}
	f.sweep()
	return f, nil
}

func isSeries(dir string) bool {
	mark, err := os.ReadFile(filepath.Join(dir, SeriesMarker))
	return err == nil && string(mark) == seriesMarkerText
}

// Close lets other runs use the folder.
func (f *SeriesFolder) Close() error {
	if f.held == nil {
		return nil
	}
	held := f.held
	f.held = nil
	return held.Close()
}

// hold keeps other runs out.
func (f *SeriesFolder) hold() error {
	held, busy, err := lock(filepath.Join(f.dir, SeriesMarker), f.share > 0)
	switch {
	case err != nil:
		return folderError(f.dir, err)
	case busy:
		return &FolderError{f.dir, ErrBusy, "wait for it to end, or choose another place with --out"}
	}
	f.held = held
	return nil
}

// sweep removes what runs that were killed have not finished. Nobody else writes here, for the folder is held.
func (f *SeriesFolder) sweep() {
	if f.held == nil || f.share > 0 {
		return // no locks here, or other shares: what lies about may be of a run that still goes on
	}
	sweepBeside(f.dir)
	for _, dir := range []string{f.dir, filepath.Join(f.dir, scansFolder)} {
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			if path := filepath.Join(dir, e.Name()); leftover(path) {
				f.disk.removeAll(path)
			}
		}
	}
}

// create makes the folder with its marker in one step, or goes into the one that another share has made meanwhile. The name
// under which it does so is always the same for a share, so that the next run clears away what a killed one has left of it.
func (f *SeriesFolder) create() error {
	d := f.disk
	parent := filepath.Dir(f.dir)
	tmp := filepath.Join(parent, "."+filepath.Base(f.dir)+partial+"series")
	if f.share > 0 {
		tmp = fmt.Sprintf("%s-%d", tmp, f.share)
	}
	if _, err := os.Lstat(tmp); err == nil {
		if !leftover(tmp) {
			return &FolderError{tmp, ErrForeign, "move it away: the folder is made under this name first"}
		}
		d.removeAll(tmp)
	}
	defer d.removeAll(tmp)
	if err := d.mkdirAll(tmp); err != nil {
		return folderError(f.dir, err)
	}
	if err := fill(d, tmp, map[string][]byte{SeriesMarker: []byte(seriesMarkerText)}); err != nil {
		return folderError(f.dir, err)
	}
	if err := d.mkdirAll(filepath.Join(tmp, scansFolder)); err != nil {
		return folderError(f.dir, err)
	}
	if err := d.syncDir(tmp); err != nil {
		return folderError(f.dir, err)
	}
	if err := d.rename(tmp, f.dir); err != nil && !(f.share > 0 && isSeries(f.dir)) {
		return folderError(f.dir, err)
	}
	if err := d.syncDir(parent); err != nil {
		return folderError(f.dir, err)
	}
	return f.hold()
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

// Earlier returns the entry that an earlier run has kept for scan i, if everything it followed from is the same and its
// folder holds what was written.
func (f *SeriesFolder) Earlier(i int, fingerprint string) (result.SeriesEntry, bool) {
	if f.again || fingerprint == "" {
		return result.SeriesEntry{}, false
	}
	raw, err := os.ReadFile(filepath.Join(f.scan(i), entryFile))
	if err != nil {
		return result.SeriesEntry{}, false
	}
	var e result.SeriesEntry
	if err := json.Unmarshal(raw, &e, jsontext.AllowInvalidUTF8(true)); err != nil || e.Fingerprint != fingerprint {
		return result.SeriesEntry{}, false
	}
	return e, intact(f.scan(i), entryFile, "analysis.json", "fit.csv")
}

// Keep writes the folder of scan i, replacing that of an earlier run, and notes in the entry where it lies.
func (f *SeriesFolder) Keep(i int, r result.Analysis, e *result.SeriesEntry, extra map[string][]byte) error {
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
	return write(f.disk, f.scan(i), r, files, Options{Force: true, CSV: f.CSV, adopt: true})
}

// Result reads the whole result of scan i back.
func (f *SeriesFolder) Result(i int) (result.Analysis, error) { return Read(f.scan(i)) }

// A FileWriter writes the content of one file.
type FileWriter func(io.Writer) error

// Finish writes the files of the whole series, each whole or not at all: series.csv, series-wide.csv, series.parquet, series.json, and
// the extra ones (figures, pages) by plain name. None of the long ones is held in memory.
func (f *SeriesFolder) Finish(s result.Series, extra map[string]FileWriter) error {
	files := maps.Clone(extra)
	if files == nil {
		files = map[string]FileWriter{}
	}
	for name := range files {
		if err := plainName(name); err != nil {
			return err
		}
	}
	files["series.json"] = func(w io.Writer) error { return WriteSeriesJSON(w, s) }
	files["series.parquet"] = func(w io.Writer) error { return WriteSeriesParquet(w, s) }
	files["series.csv"] = func(w io.Writer) error { return WriteSeriesCSV(w, s, f.CSV) }
	files["series-wide.csv"] = func(w io.Writer) error { return WriteSeriesWide(w, s, f.CSV) }
	if err := f.make(); err != nil {
		return err
	}
	f.forgetDecisions()
	return f.replace(files)
}

// Bytes is the writer of a file that is at hand.
func Bytes(b []byte) FileWriter {
	return func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	}
}

// replace writes files beside those of the series and then puts each in its place.
func (f *SeriesFolder) replace(files map[string]FileWriter) error {
	d := f.disk
	tmp, err := d.mkdirTemp(f.dir, ".series"+partial+"*")
	if err != nil {
		return folderError(f.dir, err)
	}
	defer d.removeAll(tmp)
	all := maps.Clone(files)
	all[partialMarker] = Bytes(nil)
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if err := d.write(filepath.Join(tmp, name), all[name]); err != nil {
			return folderError(f.dir, err)
		}
	}
	if err := d.syncDir(tmp); err != nil {
		return folderError(f.dir, err)
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := d.rename(filepath.Join(tmp, name), filepath.Join(f.dir, name)); err != nil {
			return folderError(f.dir, err)
		}
	}
	if err := d.syncDir(f.dir); err != nil {
		return folderError(f.dir, err)
	}
	return nil
}

// WriteSeriesJSON writes series.json: empty lists as [], everything unknown as null.
func WriteSeriesJSON(w io.Writer, s result.Series) error {
	err := json.MarshalWrite(w, s, json.WithMarshalers(numbers), json.Deterministic(true), jsontext.AllowInvalidUTF8(true), jsontext.WithIndent(" "))
	if err != nil {
		return fmt.Errorf("series.json: %w", err)
	}
	_, err = io.WriteString(w, "\n")
	return err
}

// ReadSeries reads series.json of a series folder back. Trouble in the file is a *xrd.SyntaxError.
func ReadSeries(dir string) (s result.Series, err error) {
	name := filepath.Join(dir, "series.json")
	raw, err := os.ReadFile(name)
	if err != nil {
		return s, &FolderError{dir, err, "give the folder that series wrote"}
	}
	err = json.Unmarshal(raw, &s, json.WithUnmarshalers(unknowns), jsontext.AllowInvalidUTF8(true))
	if err == nil && s.Schema != result.SeriesSchema {
		err = fmt.Errorf("schema %q, expected %q", s.Schema, result.SeriesSchema)
	}
	for _, e := range s.Scans {
		if err == nil && len(e.Phases) > 0 && len(e.Phases) != len(s.Phases) {
			err = fmt.Errorf("%s has %d phases, the series has %d", e.File, len(e.Phases), len(s.Phases))
		}
	}
	if err != nil {
		return s, &xrd.SyntaxError{File: name, Err: err, Fix: rewrite}
	}
	return s, nil
}
