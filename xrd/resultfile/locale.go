package resultfile

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strings"
)

// A Locale is how CSV is written. The zero value is for programs: commas between cells, decimal points.
type Locale struct {
	decimalComma bool // semicolons between cells, decimal commas, and the mark by which spreadsheets know UTF-8
}

// ParseLocale understands "en" and "de"; the empty name is "en".
func ParseLocale(name string) (Locale, error) {
	switch name {
	case "", "en":
		return Locale{}, nil
	case "de":
		return Locale{decimalComma: true}, nil
	}
	return Locale{}, fmt.Errorf("%q: give de (decimal comma, semicolons, as German spreadsheets read it) or en", name)
}

const byteOrderMark = "\ufeff"

var (
	pointNumber = regexp.MustCompile(`^[-+]?[0-9]*\.[0-9]+([eE][-+]?[0-9]+)?$`)
	commaNumber = regexp.MustCompile(`^[-+]?[0-9]*,[0-9]+([eE][-+]?[0-9]+)?$`)
)

// A TableWriter writes CSV row by row in a locale.
type TableWriter struct {
	csv    *csv.Writer
	locale Locale
	out    io.Writer
	begun  bool
}

// NewTableWriter returns a writer that ends with Flush.
func NewTableWriter(w io.Writer, l Locale) *TableWriter {
	t := &TableWriter{csv: csv.NewWriter(w), locale: l, out: w}
	if l.decimalComma {
		t.csv.Comma = ';'
	}
	return t
}

// Write writes a row; it may change its cells. Errors are told by Flush.
func (t *TableWriter) Write(row []string) {
	if t.locale.decimalComma {
		if !t.begun {
			_, _ = io.WriteString(t.out, byteOrderMark) // a second write tells
		}
		for i, cell := range row {
			if pointNumber.MatchString(cell) {
				row[i] = strings.Replace(cell, ".", ",", 1)
			}
		}
	}
	t.begun = true
	_ = t.csv.Write(row)
}

// Flush writes what is left and returns the first error.
func (t *TableWriter) Flush() error {
	t.csv.Flush()
	return t.csv.Error()
}

// Localised rewrites CSV of ours, with commas and decimal points, in a locale.
func Localised(raw []byte, l Locale) []byte {
	if !l.decimalComma {
		return raw
	}
	r := csv.NewReader(bytes.NewReader(raw))
	r.FieldsPerRecord, r.ReuseRecord = -1, true
	var b bytes.Buffer
	b.Grow(len(raw) + len(byteOrderMark))
	w := NewTableWriter(&b, l)
	for {
		row, err := r.Read()
		if err != nil { // the end: what we wrote is well formed
			break
		}
		w.Write(row)
	}
	_ = w.Flush() // a bytes.Buffer does not fail
	return b.Bytes()
}

// neutral is the inverse of Localised, and leaves what is neutral alone.
func neutral(raw []byte) []byte {
	if !bytes.HasPrefix(raw, []byte(byteOrderMark)) {
		return raw
	}
	r := csv.NewReader(bytes.NewReader(raw[len(byteOrderMark):]))
	r.Comma, r.FieldsPerRecord, r.ReuseRecord = ';', -1, true
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	for {
		row, err := r.Read()
		if err != nil {
			break
		}
		for i, cell := range row {
			if commaNumber.MatchString(cell) {
				row[i] = strings.Replace(cell, ",", ".", 1)
			}
		}
		_ = w.Write(row)
	}
	w.Flush()
	return b.Bytes()
}
