package library

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
)

// Progress tells how far a build is, or the reading of files.
type Progress struct {
	Done, Total int    // files
	File        string // the one just done
}

// A Report tells what a build did.
type Report struct {
	Files     int       // found
	Unchanged int       // of these, taken over from an earlier build
	Phases    int       // in the library; 0 when it was not finished
	Problems  []Problem // bad files, phases whose id is taken, and notes of the readers
}

// Build makes the library dst of CIFs and reference lists, or folders of them, and calls progress (which may be nil) after
// every file. Bad files are reported and left out. A finished dst appears at once, by renaming; until then work stands in
// dst + ".part", from which the next Build goes on after a cancellation or a crash. Files that have not changed since the
// last build are not read again; files that are no longer among paths leave the library. The same files give the same
// bytes, whatever stood there before. Only a library of this layout is ever touched, under any of these names: anything
// else is ErrNotLibrary, ErrLayout or ErrForeignPart. It returns ErrNoPhases when no file gives any.
func Build(ctx context.Context, dst string, paths []string, progress func(Progress)) (report Report, err error) {
	files, err := inputs(paths)
	if err != nil {
		return Report{}, err
	}
	w, err := startFrom(dst)
	if err != nil {
		return Report{}, err
	}
	defer func() { err = errors.Join(err, w.close()) }()
	report.Files = len(files)
	if report.Unchanged, err = w.update(ctx, files, progress); err != nil {
		return report, err
	}
	if w.copied && !w.changed {
		report.Phases, report.Problems, err = w.untouched(dst)
		return report, err
	}
	if w.grown {
		if w, err = w.rewritten(ctx); err != nil {
			return report, err
		}
	}
	report.Phases, report.Problems, err = w.finish(ctx, dst)
	switch {
	case err == nil:
		err = w.discardGrown()
	case errors.Is(err, ErrNoPhases):
		err = errors.Join(fmt.Errorf("%s: %w", dst, err), w.close(), discard(w.part), w.discardGrown())
	case w.grownFrom != "":
		err = errors.Join(err, w.close(), discard(w.part))
	}
	return report, err
}

// Create makes the library dst of records; source names where they come from. Records without strong lines are
// computed. It is the way for collections that are not files.
func Create(ctx context.Context, dst, source string, records iter.Seq[refdata.Record]) (err error) {
	w, err := startFrom(dst)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.close()) }()
	for _, text := range []string{`DELETE FROM phase`, `DELETE FROM file`, `INSERT INTO file VALUES(1, ?, '', '', '[]')`} {
		args := []any{source}
		if text[0] == 'D' {
			args = nil
		}
		if err := w.exec(text, args...); err != nil {
			return err
		}
	}
	for r := range records {
		if err := errors.Join(ctx.Err(), w.begin()); err != nil {
			return err
		}
		if r.Strong == nil {
			r.Strong = FromRecords(source, "", []refdata.Record{r}).Entry(0).Strong
		}
		entry := recordEntry(&r)
		r.Strong = nil
		if err := w.insert(1, entry, body{Record: &r}, ""); err != nil {
			return err
		}
		if w.held++; w.held >= 20*batch {
			if err := w.commit(); err != nil {
				return err
			}
		}
	}
	_, _, err = w.finish(ctx, dst)
	return err
}

// startFrom opens the unfinished file of dst, which starts as a copy of dst when there is none. What of either is
// damaged is done anew.
func startFrom(dst string) (w *writer, err error) {
	part := dst + ".part"
	exists, err := mayReplace(dst)
	if err != nil {
		return nil, err
	}
	resume, err := mayResume(part)
	if err != nil {
		return nil, err
	}
	if resume {
		if w, err = newWriter(part); !errors.Is(err, ErrDamaged) {
			if err == nil {
				w.grown = true
			}
			return w, err
		}
		if err := discard(part); err != nil {
			return nil, err
		}
	}
	if exists {
		if err := copyFile(dst, part); err != nil {
			return nil, err
		}
		if w, err = newWriter(part); err == nil {
			w.copied, w.grown = true, true
		}
		if !errors.Is(err, ErrDamaged) {
			return w, err
		}
		if err := discard(part); err != nil {
			return nil, err
		}
	}
	return newWriter(part)
}

// discard removes an unfinished file that is ours, with what the database has beside it.
func discard(part string) error {
	if err := os.Remove(part + "-journal"); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.Remove(part)
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return errors.Join(err, in.Close())
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, in.Close(), out.Close())
}

// untouched leaves dst as it is, byte for byte, and reports what is in it.
func (w *writer) untouched(dst string) (phases int, problems []Problem, err error) {
	if err := errors.Join(w.close(), discard(w.part)); err != nil {
		return 0, nil, err
	}
	lib, err := Open(dst)
	if err != nil {
		return 0, nil, err
	}
	problems, err = lib.Problems()
	return lib.Len(), problems, errors.Join(err, lib.Close())
}

// update brings the files in the library in line with those given and returns how many had not changed. When the context
// ends, what was read until then is kept.
func (w *writer) update(ctx context.Context, files []string, progress func(Progress)) (unchanged int, err error) {
	known, err := w.known()
	if err != nil {
		return 0, err
	}
	given := map[string]bool{}
	for _, file := range files {
		given[file] = true
	}
	for path := range known {
		if !given[path] {
			w.changed = true
			if err := w.forget(path); err != nil {
				return 0, err
			}
		}
	}
	results := make(chan chan content, 2*workers)
	var reading error
	go func() {
		defer close(results)
		reading = readChanged(ctx, files, known, results)
	}()
	done := 0
	for result := range results {
		var c content
		select {
		case c = <-result:
		case <-ctx.Done(): // a large file may be long in reading, and nobody waits for it
			return unchanged, errors.Join(ctx.Err(), err, w.commit())
		}
		switch {
		case err != nil: // drain
			continue
		case c.unchanged(known):
			unchanged++
		default:
			w.changed = true
			err = w.add(c)
		}
		if done++; progress != nil && err == nil {
			progress(Progress{done, len(files), c.file})
		}
	}
	return unchanged, errors.Join(err, reading, w.commit())
}

// known returns the digests of the files in the library by path.
func (w *writer) known() (map[string]string, error) {
	rows, err := w.db.Query(`SELECT path, sha256 FROM file`)
	if err != nil {
		return nil, err
	}
	defer func() { _ = rows.Close() }()
	m := map[string]string{}
	for rows.Next() {
		var path, sum sql.NullString
		if err := rows.Scan(&path, &sum); err != nil {
			return nil, err
		}
		m[path.String] = sum.String
	}
	return m, rows.Err()
}

func (c content) unchanged(known map[string]string) bool {
	return c.sha256 != "" && known[c.file] == c.sha256
}

// readChanged sends the content of every file in order, only its digest where that is known already.
func readChanged(ctx context.Context, files []string, known map[string]string, results chan<- chan content) error {
	var g errgroup.Group
	g.SetLimit(workers)
	for _, file := range files {
		if ctx.Err() != nil {
			break
		}
		result := make(chan content, 1)
		select {
		case results <- result:
		case <-ctx.Done():
			return errors.Join(g.Wait(), ctx.Err())
		}
		g.Go(func() error {
			raw, sum, err := load(file)
			c := content{file: file, sha256: sum, err: err}
			if err == nil && !c.unchanged(known) {
				c = parse(file, sum, raw)
			}
			result <- c
			return nil
		})
	}
	return errors.Join(g.Wait(), ctx.Err())
}
