package library

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"phasetally/refdata"
)

// A writer fills the unfinished file beside the one to be made.
type writer struct {
	part string
	db   *sql.DB
	tx   *sql.Tx
	held int              // phases and files in the transaction
	last int64            // row of table phase
	ops  map[string]int64 // operators by text

	copied, changed bool   // it began as the finished file; it is no longer the same
	grown           bool   // it began with what an earlier run wrote
	grownFrom       string // file of such a run that this one was copied from; "" for none
	*encoder
}

// batch is how much is at risk when the program is killed: phases and files between two commits.
const batch = 500

// newWriter opens the unfinished file, making it when it is not there. A file that does not hold what was written is
// ErrDamaged.
func newWriter(part string) (*writer, error) {
	f, err := os.OpenFile(part, os.O_RDWR|os.O_CREATE, 0o644) // this error names the file, that of the database does not
	if errors.Is(err, fs.ErrNotExist) {
		return nil, &fs.PathError{Op: "open", Path: filepath.Dir(part), Err: fs.ErrNotExist} // the user knows of no unfinished file
	}
	if err != nil {
		return nil, err
	}
	if err := f.Close(); err != nil {
		return nil, err
	}
	w := &writer{part: part, ops: map[string]int64{}, encoder: newEncoder()}
	return w, w.open()
}

// errBusy says that another program builds the same library.
var errBusy = errors.New("another program is building this library")

func (w *writer) open() error {
	var err error
	if w.db, err = connect(w.part, "rwc"); err != nil {
		return err
	}
	w.db.SetMaxOpenConns(1)
	steps := []string{`PRAGMA page_size = 32768`, `PRAGMA locking_mode = EXCLUSIVE`, `BEGIN EXCLUSIVE`,
		fmt.Sprintf(`PRAGMA application_id = %d`, application), fmt.Sprintf(`PRAGMA user_version = %d`, layout), schema, `COMMIT`}
	for _, text := range steps {
		if err = w.exec(text); err != nil {
			return errors.Join(damaged(err), w.close())
		}
	}
	if err = verify(w.db); err != nil {
		return errors.Join(fmt.Errorf("%s: %w", w.part, err), w.close())
	}
	for _, text := range []string{`DELETE FROM meta`, `DELETE FROM pack`, `DELETE FROM problem`} {
		if err = w.exec(text); err != nil {
			return errors.Join(err, w.close())
		}
	}
	if err = w.db.QueryRow(`SELECT coalesce(max(id), 0) FROM phase`).Scan(&w.last); err != nil {
		return errors.Join(err, w.close())
	}
	return nil
}

// damaged marks what the database says of a file that is ours but cannot be read.
func damaged(err error) error {
	if errors.Is(err, errBusy) || errors.Is(err, ErrNoSpace) {
		return err
	}
	return fmt.Errorf("%w: %w", ErrDamaged, err)
}

func (w *writer) exec(text string, args ...any) error {
	var err error
	if w.tx != nil {
		_, err = w.tx.Exec(text, args...)
	} else {
		_, err = w.db.Exec(text, args...)
	}
	return w.trouble(err)
}

// ErrNoSpace says that a library cannot be written for want of space; what was written until then is kept.
var ErrNoSpace = errors.New("no space is left on the disk")

// trouble names the file in what the database says, and tells what it means; nil stays nil.
func (w *writer) trouble(err error) error {
	switch {
	case err == nil:
		return nil
	case strings.Contains(err.Error(), "locked"):
		return fmt.Errorf("%s: %w: %w", w.part, errBusy, err)
	case strings.Contains(err.Error(), "disk is full"):
		return fmt.Errorf("%s: %w; make room and build again", w.part, ErrNoSpace)
	}
	return fmt.Errorf("%s: %w", w.part, err)
}

func (w *writer) begin() (err error) {
	if w.tx == nil {
		w.tx, err = w.db.Begin()
	}
	return err
}

func (w *writer) commit() error {
	if w.tx == nil {
		return nil
	}
	err := w.tx.Commit()
	w.tx, w.held = nil, 0
	return w.trouble(err)
}

// forget deletes a file and its phases.
func (w *writer) forget(path string) error {
	if err := w.begin(); err != nil {
		return err
	}
	return errors.Join(w.exec(`DELETE FROM phase WHERE file = (SELECT id FROM file WHERE path = ?)`, path), w.exec(`DELETE FROM file WHERE path = ?`, path))
}

// add writes what a file gave, replacing what it gave before.
func (w *writer) add(c content) error {
	if err := w.forget(c.file); err != nil {
		return err
	}
	problem := ""
	if c.err != nil {
		problem = c.err.Error()
	}
	notes, err := json.Marshal(noteTexts(c))
	if err != nil {
		return err
	}
	file, err := w.beginFile(c.file, c.sha256, problem, string(notes))
	if err != nil {
		return err
	}
	for i := range c.entries {
		if err := w.addPhase(file, c, i); err != nil {
			return err
		}
	}
	w.held += len(c.entries)
	return w.endFile()
}

func noteTexts(c content) [][2]string {
	texts := [][2]string{}
	for _, p := range notes(c) {
		texts = append(texts, [2]string{p.ID, p.Err.Error()})
	}
	return texts
}

func (w *writer) addPhase(file int64, c content, i int) error {
	var b body
	operators := ""
	if i < len(c.structures) {
		record, ops := recordOf(c.structures[i])
		b, operators = body{Record: &record, Cautions: c.structures[i].Cautions}, ops
	} else {
		b.List = &c.lists[i-len(c.structures)]
	}
	return w.insert(file, c.entries[i], b, operators)
}

func (w *writer) insert(file int64, e refdata.Entry, b body, operators string) error {
	raw, err := w.encode(b)
	if err != nil {
		return err
	}
	return w.insertRow(file, packEntry(e), raw, operators)
}

// insertRow writes a phase as it stands in the file.
func (w *writer) insertRow(file int64, entry, raw []byte, operators string) error {
	symmetry, err := w.symmetry(operators)
	if err != nil {
		return err
	}
	w.last++
	return w.exec(`INSERT INTO phase(id, file, symmetry, entry, body, sum) VALUES(?, ?, ?, ?, ?, ?)`,
		w.last, file, symmetry, entry, raw, phaseSum(w.last, entry, raw, operators))
}

// symmetry returns the row of a set of operators; none when there are none.
func (w *writer) symmetry(operators string) (sql.NullInt64, error) {
	if operators == "" {
		return sql.NullInt64{}, nil
	}
	if id, ok := w.ops[operators]; ok {
		return sql.NullInt64{Int64: id, Valid: true}, nil
	}
	if err := w.exec(`INSERT OR IGNORE INTO symmetry(operators) VALUES(?)`, operators); err != nil {
		return sql.NullInt64{}, err
	}
	id := sql.NullInt64{Valid: true}
	err := w.tx.QueryRow(`SELECT id FROM symmetry WHERE operators = ?`, operators).Scan(&id.Int64)
	w.ops[operators] = id.Int64
	return id, err
}

// finish packs the entries, leaving out all but the first phase of an id, and moves the file into its place. It returns
// the number of phases, and what to tell about files and phases that are not used.
func (w *writer) finish(ctx context.Context, dst string) (phases int, problems []Problem, err error) {
	if err := errors.Join(w.commit(), w.begin()); err != nil {
		return 0, nil, err
	}
	if problems, err = w.fileProblems(); err != nil {
		return 0, nil, err
	}
	phases, duplicates, err := w.pack(ctx)
	if err != nil {
		return 0, problems, err
	}
	problems = append(problems, duplicates...)
	for _, p := range problems {
		if err := w.exec(`INSERT INTO problem VALUES(?, ?, ?)`, p.File, p.ID, p.Err.Error()); err != nil {
			return 0, problems, err
		}
	}
	if phases == 0 {
		return 0, problems, ErrNoPhases
	}
	if err := w.seal(); err != nil {
		return 0, problems, err
	}
	return phases, problems, replace(w.part, dst)
}

// seal writes the digests of the inputs and of all rows, the mark of a finished file, and closes.
func (w *writer) seal() error {
	sums, err := texts(w.tx.Query(`SELECT sha256 FROM file ORDER BY path`))
	if err != nil {
		return err
	}
	sum := sha256.Sum256([]byte(strings.Join(sums, "\n")))
	whole, err := digestOf(w.tx)
	if err != nil {
		return err
	}
	if err := w.exec(`INSERT INTO meta VALUES('digest', ?), ('rows', ?)`, hex.EncodeToString(sum[:]), whole); err != nil {
		return err
	}
	if err := w.commit(); err != nil {
		return err
	}
	return w.close()
}

// close ends without finishing; what was committed stays.
func (w *writer) close() error {
	if w.db == nil {
		return nil
	}
	var err error
	if w.tx != nil {
		err = w.tx.Rollback()
		w.tx = nil
	}
	err = errors.Join(err, w.db.Close())
	w.db = nil
	return err
}

// texts collects a column of texts.
func texts(rows *sql.Rows, err error) (list []string, _ error) {
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		list = append(list, s)
	}
	return list, rows.Err()
}

// fileProblems returns what reading the files told.
func (w *writer) fileProblems() (list []Problem, err error) {
	rows, err := w.tx.Query(`SELECT path, problem, notes FROM file WHERE problem <> '' OR notes <> '[]' ORDER BY path`)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		var path, problem, notes string
		if err := rows.Scan(&path, &problem, &notes); err != nil {
			return nil, err
		}
		if problem != "" {
			list = append(list, Problem{File: path, Err: errors.New(problem)})
		}
		var told [][2]string
		if err := json.Unmarshal([]byte(notes), &told); err != nil {
			return nil, err
		}
		for _, t := range told {
			list = append(list, Problem{path, t[0], errors.New(t[1]), true})
		}
	}
	return list, rows.Err()
}

// pack packs the entries of all phases in order of file.
func (w *writer) pack(ctx context.Context) (phases int, duplicates []Problem, err error) {
	rows, err := w.tx.QueryContext(ctx, `SELECT phase.id, path, entry FROM phase JOIN file ON file.id = phase.file ORDER BY path, phase.id`)
	if err != nil {
		return 0, nil, err
	}
	taken := map[string]string{}
	var packs []packer
	for rows.Next() {
		var row uint32
		var path string
		var packed sql.RawBytes
		if err := rows.Scan(&row, &path, &packed); err != nil {
			return 0, nil, errors.Join(err, rows.Close())
		}
		one, err := decodePack(packed)
		if err != nil || one.len() != 1 {
			return 0, nil, errors.Join(errPack, rows.Close())
		}
		e := one.entry(0)
		if other, ok := taken[strings.ToLower(e.ID)]; ok {
			duplicates = append(duplicates, duplicate(path, e.ID, other))
			continue
		}
		taken[strings.ToLower(e.ID)] = path
		if phases%packSize == 0 {
			packs = append(packs, packer{})
		}
		packs[len(packs)-1].add(row, e)
		phases++
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return 0, nil, err
	}
	for i := range packs {
		blob, id := packs[i].blob(), int64(i+1)
		if err := w.exec(`INSERT INTO pack(id, body, sum) VALUES(?, ?, ?)`, id, blob, rowSum(id, blob)); err != nil {
			return 0, nil, err
		}
	}
	return phases, duplicates, nil
}

// replace moves a file into its place for good: both the file and the folder are on the disk afterwards.
func replace(from, to string) error {
	for _, step := range []func() error{func() error { return flush(from) }, func() error { return os.Rename(from, to) }, func() error { return flush(filepath.Dir(to)) }} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// flush sees that a file, or the names in a folder, are on the disk. Windows flushes what may be written to, and no folders.
func flush(path string) error {
	info, err := os.Stat(path)
	if err != nil || info.IsDir() && runtime.GOOS == "windows" {
		return err
	}
	how := os.O_RDWR
	if info.IsDir() {
		how = os.O_RDONLY
	}
	f, err := os.OpenFile(path, how, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
