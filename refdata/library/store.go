package library

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"

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

// schema: files as they were read, with what is wrong with them; phases by themselves; the entries of all, packed. Every
// row that an answer rests on carries its checksum.
const schema = `
CREATE TABLE IF NOT EXISTS meta(key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS file(id INTEGER PRIMARY KEY, path TEXT NOT NULL UNIQUE, sha256 TEXT NOT NULL, problem TEXT NOT NULL, notes TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS symmetry(id INTEGER PRIMARY KEY, operators TEXT NOT NULL UNIQUE);
CREATE TABLE IF NOT EXISTS phase(id INTEGER PRIMARY KEY, file INTEGER NOT NULL, symmetry INTEGER, entry BLOB NOT NULL, body BLOB NOT NULL, sum INTEGER NOT NULL);
CREATE INDEX IF NOT EXISTS phase_file ON phase(file);
CREATE TABLE IF NOT EXISTS problem(file TEXT NOT NULL, id TEXT NOT NULL, text TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS pack(id INTEGER PRIMARY KEY, body BLOB NOT NULL, sum INTEGER NOT NULL);
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
	return sql.Open("sqlite", fileURI(filepath.ToSlash(absolute), query))
}

// store is a built file.
type store struct {
	db    *sql.DB
	body  *sql.Stmt // of a phase by its row
	from  Source
	packs []pack // all of packSize entries but the last
}

// Open opens a built library. It returns ErrNotLibrary for another file, ErrLayout for one of another version of the
// program, ErrUnfinished for one whose building was cut off, and ErrDamaged for one that does not hold what was written.
// Close it.
func Open(path string) (*Library, error) {
	switch m, err := markOf(path); {
	case err != nil:
		return nil, err
	case m == absent:
		_, err := os.Stat(path)
		return nil, cmp.Or(err, fs.ErrNotExist)
	case m == otherLayout:
		return nil, fmt.Errorf("%s: %w; build it again under another name", path, ErrLayout)
	case m != ours:
		return nil, fmt.Errorf("%s: %w; build one of CIFs and lists with 'phasetally library build'", path, ErrNotLibrary)
	}
	db, err := connect(path, "ro")
	if err != nil {
		return nil, err
	}
	s := &store{db: db, from: Source{File: path}}
	if err := s.load(); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", path, err), db.Close())
	}
	s.from.Phases = s.len()
	return newLibrary(s), nil
}

// load checks what the file says of itself and reads the entries.
func (s *store) load() error {
	err := s.db.QueryRow(`SELECT value FROM meta WHERE key = 'digest'`).Scan(&s.from.SHA256)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return ErrUnfinished
	case err != nil:
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if s.body, err = s.db.Prepare(`SELECT entry, body, operators, sum FROM phase LEFT JOIN symmetry ON symmetry.id = phase.symmetry WHERE phase.id = ?`); err != nil {
		return fmt.Errorf("%w: %w", errBody, err)
	}
	ids, err := s.packIDs()
	if err != nil {
		return err
	}
	s.packs = make([]pack, len(ids))
	var g errgroup.Group
	each := (len(ids) + workers - 1) / workers
	for lo := 0; lo < len(ids); lo += each {
		hi := min(len(ids), lo+each)
		g.Go(func() error { return s.read(ids[lo], ids[hi-1], s.packs[lo:hi]) })
	}
	if err := g.Wait(); err != nil {
		return err
	}
	for i := range s.packs {
		if i < len(s.packs)-1 && s.packs[i].len() != packSize {
			return errPack
		}
	}
	return nil
}

func (s *store) packIDs() (ids []int64, err error) {
	found, err := s.db.Query(`SELECT id FROM pack ORDER BY id`)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errPack, err)
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	for found.Next() {
		var id int64
		if err := found.Scan(&id); err != nil {
			return nil, fmt.Errorf("%w: %w", errPack, err)
		}
		ids = append(ids, id)
	}
	return ids, found.Err()
}

// read decodes the blobs of a range of ids, as many as there is room for.
func (s *store) read(from, to int64, packs []pack) (err error) {
	found, err := s.db.Query(`SELECT id, body, sum FROM pack WHERE id BETWEEN ? AND ? ORDER BY id`, from, to)
	if err != nil {
		return fmt.Errorf("%w: %w", errPack, err)
	}
	defer func() { err = errors.Join(err, found.Close()) }()
	for i := range packs {
		var raw sql.RawBytes
		var id int64
		var sum uint32
		if !found.Next() {
			return errors.Join(errPack, found.Err())
		}
		if err := found.Scan(&id, &raw, &sum); err != nil {
			return fmt.Errorf("%w: %w", errPack, err)
		}
		if rowSum(id, raw) != sum {
			return errPack
		}
		if packs[i], err = decodePack(raw); err != nil {
			return err
		}
	}
	return nil
}

func (s *store) len() int {
	if len(s.packs) == 0 {
		return 0
	}
	last := len(s.packs) - 1
	return last*packSize + s.packs[last].len()
}

func (s *store) entry(i int) refdata.Entry { return s.packs[i/packSize].entry(i % packSize) }
func (s *store) id(i int) string           { return s.packs[i/packSize].id(i % packSize) }

func (s *store) phase(i int, beam refdata.Beam) (refdata.Phase, error) {
	var entry, raw []byte
	var operators sql.NullString
	var sum uint32
	row := s.packs[i/packSize].rows[i%packSize]
	err := s.body.QueryRow(row).Scan(&entry, &raw, &operators, &sum)
	if err != nil {
		return refdata.Phase{}, fmt.Errorf("%s: %w: %w", s.from.File, errBody, err)
	}
	if phaseSum(int64(row), entry, raw, operators.String) != sum {
		return refdata.Phase{}, fmt.Errorf("%s: %s: %w", s.from.File, s.id(i), errBody)
	}
	b, err := decodeBody(raw, operators.String)
	if err != nil {
		return refdata.Phase{}, fmt.Errorf("%s: %w", s.from.File, err)
	}
	return b.phase(beam)
}

func (s *store) source(int) Source { return s.from }
func (s *store) close() error      { return errors.Join(s.body.Close(), s.db.Close()) }

// fileURI names a file as SQLite wants it; a path with the letter of a drive follows a slash, too.
func fileURI(path, query string) string {
	if !strings.HasPrefix(path, "/") {
		path = "/" + path
	}
	name := url.URL{Scheme: "file", Path: path, RawQuery: query}
	return name.String()
}
