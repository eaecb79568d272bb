package resultfile

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Why a table of conditions is refused; test with errors.Is.
var (
	ErrNoColumns  = errors.New("no column of conditions")
	ErrColumnName = errors.New("a column's name cannot be used")
	ErrTwoRows    = errors.New("two rows for one file")
	ErrRowLength  = errors.New("a row is not as long as the header")
	ErrNoRows     = errors.New("no rows")
	ErrNotText    = errors.New("not a text table in UTF-8")
	ErrTooLong    = errors.New("the table is too long")
)

// Limits of a table of conditions, far beyond any that a person fills in.
const (
	mostConditionBytes   = 16 << 20
	mostConditionColumns = 200
)

// ReadConditions reads a table as a spreadsheet saves it: one header row; the scan's file name first, then any columns;
// comma, semicolon or tab between cells, with or without a byte-order mark. Empty rows are skipped. Everything that it
// refuses is a *xrd.SyntaxError.
func ReadConditions(r io.Reader, name string) (result.Conditions, error) {
	raw, err := io.ReadAll(io.LimitReader(r, mostConditionBytes+1))
	refuse := func(line int, err error, fix string) (result.Conditions, error) {
		return result.Conditions{}, &xrd.SyntaxError{File: name, Line: line, Err: err, Fix: fix}
	}
	const saveAgain = "save it from the spreadsheet as CSV in UTF-8"
	switch {
	case err != nil:
		return refuse(0, err, "check the file")
	case len(raw) > mostConditionBytes:
		return refuse(0, ErrTooLong, "keep one row a scan")
	case !utf8.Valid(raw) || bytes.ContainsRune(raw, 0):
		return refuse(0, ErrNotText, saveAgain)
	}
	raw = bytes.TrimPrefix(raw, []byte("\ufeff"))
	c := csv.NewReader(bufio.NewReader(bytes.NewReader(raw)))
	c.Comma, c.FieldsPerRecord, c.TrimLeadingSpace = separator(raw), -1, true
	out := result.Conditions{Rows: map[string][]string{}}
	header := true
	for {
		cells, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			var at *csv.ParseError
			if errors.As(err, &at) {
				return refuse(at.Line, at.Err, saveAgain)
			}
			return refuse(0, err, saveAgain)
		}
		line, _ := c.FieldPos(0)
		for i := range cells {
			cells[i] = strings.TrimSpace(xrd.Printable(cells[i]))
		}
		if strings.Join(cells, "") == "" {
			continue
		}
		if header {
			header = false
			if err := columnNames(&out, cells); err != nil {
				return refuse(line, err, "name the scan's file in the first column and each condition in its own, as in: file,hours,temperature_C")
			}
			continue
		}
		file := cells[0]
		switch _, twice := out.Rows[file]; {
		case len(cells) != len(out.Columns)+1:
			return refuse(line, fmt.Errorf("%w: %d cells, %d columns", ErrRowLength, len(cells), len(out.Columns)+1), "fill or remove cells; put quotes around a text that holds the separator")
		case file == "":
			return refuse(line, errors.New("no file name"), "begin the row with the name of its scan, or remove it")
		case twice:
			return refuse(line, fmt.Errorf("%w: %q", ErrTwoRows, file), "keep one of them")
		}
		out.Rows[file] = cells[1:]
	}
	if len(out.Rows) == 0 {
		return refuse(0, ErrNoRows, "add one row a scan under the header")
	}
	return out, nil
}

func columnNames(out *result.Conditions, cells []string) error {
	if len(cells) < 2 {
		return ErrNoColumns
	}
	if len(cells) > mostConditionColumns {
		return fmt.Errorf("%w: %d, at most %d", ErrTooLong, len(cells), mostConditionColumns)
	}
	seen := map[string]bool{}
	for i, name := range cells[1:] {
		key := strings.ToLower(name)
		switch {
		case name == "":
			return fmt.Errorf("%w: column %d has none", ErrColumnName, i+2)
		case seen[key]:
			return fmt.Errorf("%w: %q stands twice", ErrColumnName, name)
		case takenName(name):
			return fmt.Errorf("%w: %q is a column of series.csv already", ErrColumnName, name)
		}
		seen[key] = true
	}
	out.Columns = cells[1:]
	return nil
}

// separator is the candidate that occurs most in the header, outside of quotes.
func separator(raw []byte) rune {
	count, quoted := map[rune]int{}, false
	for _, r := range string(bytes.TrimLeft(raw, "\r\n")) {
		switch {
		case r == '"':
			quoted = !quoted
		case quoted:
		case r == '\n':
			return mostOf(count)
		default:
			count[r]++
		}
	}
	return mostOf(count)
}

// mostOf is the separator that was counted most often.
func mostOf(count map[rune]int) rune {
	best := ','
	for _, r := range []rune{';', '\t'} {
		if count[r] > count[best] {
			best = r
		}
	}
	return best
}
