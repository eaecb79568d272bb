package library

import (
	"context"
	"database/sql"
	"errors"
	"os"
)

// rewritten copies a file that grew in several runs into a new one, in the order in which one run writes: the same inputs give the same
// bytes, however often a build was stopped and whatever the library held before. The old file stays until the new one is finished.
func (w *writer) rewritten(ctx context.Context) (_ *writer, err error) {
	name := w.part + ".new"
	if left, err := mayResume(name); err != nil {
		return w, err
	} else if left { // by a run that was killed
		if err := discard(name); err != nil {
			return w, err
		}
	}
	fresh, err := newWriter(name)
	if err != nil {
		return w, err
	}
	if err := errors.Join(w.copyTo(ctx, fresh), w.close()); err != nil {
		return w, errors.Join(err, fresh.close(), discard(name))
	}
	fresh.grownFrom = w.part
	return fresh, nil
}

// copyTo copies files and phases, file after file by path.
func (w *writer) copyTo(ctx context.Context, fresh *writer) (err error) {
	rows, err := w.db.QueryContext(ctx, `SELECT path, sha256, problem, notes, entry, body, coalesce(operators, '') FROM file
		LEFT JOIN phase ON phase.file = file.id LEFT JOIN symmetry ON symmetry.id = phase.symmetry ORDER BY path, phase.id`)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var before string
	var file int64
	for rows.Next() {
		var path, sum, problem, notes, operators string
		var entry, raw sql.RawBytes
		if err := rows.Scan(&path, &sum, &problem, &notes, &entry, &raw, &operators); err != nil {
			return err
		}
		if file == 0 || path != before {
			if err := fresh.endFile(); err != nil {
				return err
			}
			if file, err = fresh.beginFile(path, sum, problem, notes); err != nil {
				return err
			}
			before = path
		}
		if entry == nil {
			continue // a file without phases
		}
		fresh.held++
		if err := fresh.insertRow(file, entry, raw, operators); err != nil {
			return err
		}
	}
	return errors.Join(rows.Err(), ctx.Err(), fresh.commit())
}

// beginFile writes the row of a file and returns its number.
func (w *writer) beginFile(path, sum, problem, notes string) (int64, error) {
	if err := w.begin(); err != nil {
		return 0, err
	}
	w.held++
	done, err := w.tx.Exec(`INSERT INTO file(path, sha256, problem, notes) VALUES(?, ?, ?, ?)`, path, sum, problem, notes)
	if err != nil {
		return 0, w.trouble(err)
	}
	return done.LastInsertId()
}

// endFile commits when enough is at risk.
func (w *writer) endFile() error {
	if w.held >= batch {
		return w.commit()
	}
	return nil
}

// discardGrown removes the file that a finished one was copied from.
func (w *writer) discardGrown() error {
	if w.grownFrom == "" {
		return nil
	}
	if _, err := os.Lstat(w.grownFrom); errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return discard(w.grownFrom)
}
