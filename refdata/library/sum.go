package library

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
)

// castagnoli finds every flip of up to three bits in a row of these lengths, and all but 2⁻³² of other damage.
var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// rowSum is the checksum of a row: its number, and every part with its length.
func rowSum(id int64, parts ...[]byte) uint32 {
	sum := crc32.Checksum(binary.LittleEndian.AppendUint64(nil, uint64(id)), castagnoli)
	for _, part := range parts {
		sum = crc32.Update(sum, castagnoli, binary.LittleEndian.AppendUint64(nil, uint64(len(part))))
		sum = crc32.Update(sum, castagnoli, part)
	}
	return sum
}

// phaseSum is that of a phase, with the operators that stand in another table.
func phaseSum(id int64, entry, body []byte, operators string) uint32 {
	return rowSum(id, entry, body, []byte(operators))
}

// A querier is a database or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// tables are those of a library but for meta.
var tables = []string{"file", "symmetry", "phase", "problem", "pack"}

// digestOf covers every row of every table in order.
func digestOf(db querier) (string, error) {
	sum := sha256.New()
	for _, table := range tables {
		fmt.Fprintln(sum, table)
		err := eachRow(db, `SELECT * FROM `+table+` ORDER BY rowid`, func(values []sql.RawBytes) error {
			for _, v := range values {
				fmt.Fprintf(sum, "%d %t ", len(v), v == nil)
				sum.Write(v)
			}
			return nil
		})
		if err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(sum.Sum(nil)), nil
}

func eachRow(db querier, query string, do func(values []sql.RawBytes) error) (err error) {
	rows, err := db.QueryContext(context.Background(), query)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	values, into := make([]sql.RawBytes, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return err
		}
		if err := do(values); err != nil {
			return err
		}
	}
	return rows.Err()
}

// verify reads everything and returns ErrDamaged unless it is what was written: the pages, the checksum of every phase
// and, in a finished file, the digest of all rows.
func verify(db *sql.DB) error {
	var said string
	if err := db.QueryRow(`PRAGMA quick_check(1)`).Scan(&said); err != nil || said != "ok" {
		return errors.Join(fmt.Errorf("%w: %s", ErrDamaged, said), err)
	}
	err := eachRow(db, `SELECT phase.id, entry, body, coalesce(operators, ''), sum FROM phase LEFT JOIN symmetry ON symmetry.id = phase.symmetry`,
		func(v []sql.RawBytes) error {
			var id int64
			var sum uint32
			if _, err := fmt.Sscan(string(v[0])+" "+string(v[4]), &id, &sum); err != nil || phaseSum(id, v[1], v[2], string(v[3])) != sum {
				return fmt.Errorf("row %s of the phases", v[0])
			}
			return nil
		})
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	var want string
	switch err := db.QueryRow(`SELECT value FROM meta WHERE key = 'rows'`).Scan(&want); {
	case errors.Is(err, sql.ErrNoRows): // not finished
		return nil
	case err != nil:
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if got, err := digestOf(db); err != nil || got != want {
		return errors.Join(fmt.Errorf("%w: its rows are not those that were written", ErrDamaged), err)
	}
	return nil
}
