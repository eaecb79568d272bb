package library

import (
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	"golang.org/x/sync/errgroup"
	_ "modernc.org/sqlite" // the driver "sqlite"

	"phasetally/refdata"
)

// Errors of built files; test with errors.Is.
var (
	ErrNotLibrary = errors.New("not a library of this program")
	ErrUnfinished = errors.New("the library was not finished; run library build again")
)

// workers is how many files are read, or blobs decoded, at once.
const workers = 2

// version names the layout of the tables; it goes into meta.
const version = "phasetally.library/1"

// schema: files as they were read, with what is wrong with them; phases by themselves; the entries of all, packed.
const schema = `
CREATE TABLE IF NOT EXISTS meta(key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS file(id INTEGER PRIMARY KEY, path TEXT NOT NULL UNIQUE, sha256 TEXT NOT NULL, problem TEXT NOT NULL, notes TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS symmetry(id INTEGER PRIMARY KEY, operators TEXT NOT NULL UNIQUE);
CREATE TABLE IF NOT EXISTS phase(id INTEGER PRIMARY KEY, file INTEGER NOT NULL, symmetry INTEGER, entry BLOB NOT NULL, body BLOB NOT NULL);
CREATE INDEX IF NOT EXISTS phase_file ON phase(file);
CREATE TABLE IF NOT EXISTS problem(file TEXT NOT NULL, id TEXT NOT NULL, text TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS pack(id INTEGER PRIMARY KEY, n INTEGER NOT NULL, body BLOB NOT NULL);
`

// connect opens a database file with a mode of SQLite's: ro, rwc.
func connect(path, mode string) (*sql.DB, error) {
	absolute, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	query := "mode=" + mode + "&_pragma=synchronous(NORMAL)&_pragma=temp_store(MEMORY)"
	if mode == "ro" {
		query += "&immutable=1" // nobody writes a finished file, so no lock is needed, nor a folder that can be written
	}
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(absolute), RawQuery: query}
	return sql.Open("sqlite", name.String())
}

// store is a built file.
type store struct {
	db   *sql.DB
	from Source
	rows []int64 // of table phase, parallel to the entries
}

// Open opens a built library. It returns ErrNotLibrary for another file and ErrUnfinished for one whose building was cut
// off. Close it.
func Open(path string) (*Library, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, err
	}
	if !isBuilt(path) {
		return nil, fmt.Errorf("%s: %w", path, ErrNotLibrary)
	}
	db, err := connect(path, "ro")
	if err != nil {
		return nil, err
	}
	s := &store{db: db, from: Source{File: path}}
	entries, err := s.load()
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), db.Close())
	}
	s.from.Phases = len(entries)
	return newLibrary(s, entries), nil
}

// load checks what the file says of itself and unpacks the entries.
func (s *store) load() ([]refdata.Entry, error) {
	var layout string
	if err := s.db.QueryRow(`SELECT value FROM meta WHERE key = 'schema'`).Scan(&layout); err != nil || layout != version {
		return nil, errors.Join(fmt.Errorf("%w: layout %q, expected %q", ErrNotLibrary, layout, version), err)
	}
	if err := s.db.QueryRow(`SELECT value FROM meta WHERE key = 'digest'`).Scan(&s.from.SHA256); err != nil {
		return nil, ErrUnfinished
	}
	blobs, sizes, err := s.blobs()
	if err != nil {
		return nil, err
	}
	total := 0
	for _, n := range sizes {
		total += n
	}
	entries := make([]refdata.Entry, total)
	s.rows = make([]int64, total)
	var g errgroup.Group
	g.SetLimit(workers)
	first := 0
	for i, blob := range blobs {
		lo, hi := first, first+sizes[i]
		first = hi
		g.Go(func() error { return unpack(blob, entries[lo:hi], s.rows[lo:hi]) })
	}
	return entries, g.Wait()
}

func (s *store) blobs() (blobs []string, sizes []int, err error) {
	found, err := s.db.Query(`SELECT n, body FROM pack ORDER BY id`)
	if err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errPack, err)
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	for found.Next() {
		var n int
		var raw sql.RawBytes
		if err := found.Scan(&n, &raw); err != nil {
			return nil, nil, fmt.Errorf("%w: %w", errPack, err)
		}
		if n < 0 || n > len(raw)/minEntry {
			return nil, nil, errPack
		}
		blobs, sizes = append(blobs, string(raw)), append(sizes, n)
	}
	if err := found.Err(); err != nil {
		return nil, nil, fmt.Errorf("%w: %w", errPack, err)
	}
	return blobs, sizes, nil
}

func (s *store) phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	var raw []byte
	var operators sql.NullString
	err := s.db.QueryRow(`SELECT body, operators FROM phase LEFT JOIN symmetry ON symmetry.id = phase.symmetry WHERE phase.id = ?`, s.rows[i]).
		Scan(&raw, &operators)
	if err != nil {
		return refdata.Phase{}, fmt.Errorf("%s: %w: %w", s.from.File, errBody, err)
	}
	b, err := decodeBody(raw, operators.String)
	if err != nil {
		return refdata.Phase{}, fmt.Errorf("%s: %w", s.from.File, err)
	}
	return b.phase(beam)
}

func (s *store) source(int) Source { return s.from }
func (s *store) close() error      { return s.db.Close() }
