package listfile

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"phasetally/xrd"
)

// ErrNoRows says that a list has no line of any phase; test with errors.Is.
var ErrNoRows = errors.New("there is no row with a line")

// Read reads a reference list; name is the file as the user wrote it, for messages. Phases come in the order of their
// first rows, lines in the order of the file. Refused input is an *xrd.SyntaxError; see the package documentation.
func Read(r io.Reader, name string) ([]List, error) {
	text, err := readText(r)
	if err != nil {
		return nil, &xrd.SyntaxError{File: name, Err: err, Fix: "save the table as CSV or TSV"}
	}
	t := table{file: name, text: blankComments(text)}
	return t.lists()
}

// blankComments empties the lines before the header that begin with #, so that line numbers stay right, and the hint of
// spreadsheets which separator follows.
func blankComments(text string) string {
	var head strings.Builder
	for text != "" {
		line, rest, _ := strings.Cut(text, "\n")
		t := strings.TrimSpace(line)
		if t != "" && !strings.HasPrefix(t, "#") && !strings.HasPrefix(strings.ToLower(t), "sep=") {
			break
		}
		head.WriteByte('\n')
		text = rest
	}
	return head.String() + text
}

// A table is a file on its way to lists.
type table struct {
	file, text   string
	columns      columns
	decimalComma bool // allowed: the separator is something else
	line         int  // of the row in hand
	builders     []*builder
	byID         map[string]*builder
}

func (t *table) lists() ([]List, error) {
	rows := csv.NewReader(strings.NewReader(t.text))
	rows.Comma = separator(t.text)
	rows.FieldsPerRecord, rows.TrimLeadingSpace, rows.ReuseRecord = -1, rows.Comma != '\t', true
	t.decimalComma, t.byID = rows.Comma != ',', map[string]*builder{}
	for {
		cells, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, t.malformed(err)
		}
		t.line, _ = rows.FieldPos(0)
		if err := t.row(cells); err != nil {
			return nil, err
		}
	}
	if len(t.builders) == 0 {
		t.line = 0
		return nil, t.refuse(ErrNoRows, "give a header row with phase, d and intensity, and one row a line")
	}
	return t.finish()
}

// separator looks at the header line: a tab or a semicolon there is no part of a name.
func separator(text string) rune {
	header, _, _ := strings.Cut(strings.TrimLeft(text, "\n"), "\n")
	for _, sep := range "\t;" {
		if strings.ContainsRune(header, sep) {
			return sep
		}
	}
	return ','
}

// maxName is how many letters a name or an id may have: more is no name.
const maxName = 120

// row takes the header, skips empty rows and comments, and adds any other row to its phase.
func (t *table) row(cells []string) error {
	rest := strings.TrimSpace(strings.Join(cells[1:], ""))
	first := strings.TrimSpace(cells[0])
	if rest == "" && (first == "" || strings.HasPrefix(first, "#")) {
		return nil
	}
	if t.columns.at == nil {
		var err error
		if t.columns, err = columnsOf(cells); err != nil {
			return t.refuse(err, "name the columns phase, d, intensity (and others) in the first row")
		}
		return nil
	}
	name := t.cell(cells, "phase")
	id := Slug(name)
	if given := t.cell(cells, "id"); given != "" {
		id = given
	}
	if id == "" {
		return t.refuse(fmt.Errorf("the phase %.40q has no name that an id can be made of", name), "write the name into every row")
	}
	b := t.byID[strings.ToLower(id)]
	if b == nil {
		if utf8.RuneCountInString(name) > maxName || utf8.RuneCountInString(id) > maxName {
			return t.refuse(fmt.Errorf("the phase %.40q… has a name of more than %d letters", name, maxName), "give a shorter name")
		}
		b = newBuilder(id, name)
		t.byID[strings.ToLower(id)] = b
		t.builders = append(t.builders, b)
	}
	return b.add(t, cells)
}

// cell returns the trimmed text of a column, empty when the row or the file lacks it.
func (t *table) cell(cells []string, column string) string {
	if i, ok := t.columns.at[column]; ok && i < len(cells) {
		return strings.TrimSpace(cells[i])
	}
	return ""
}

func (t *table) finish() ([]List, error) {
	lists := make([]List, len(t.builders))
	for i, b := range t.builders {
		var err error
		if lists[i], err = b.list(t); err != nil {
			return nil, err
		}
	}
	return lists, nil
}

func (t *table) refuse(err error, fix string) error {
	return &xrd.SyntaxError{File: t.file, Line: t.line, Err: err, Fix: fix}
}

// malformed carries over where the CSV syntax broke.
func (t *table) malformed(err error) error {
	var at *csv.ParseError
	if errors.As(err, &at) {
		t.line, err = at.Line, at.Err
	}
	return t.refuse(err, "double the quotation marks inside a quoted field, and close it")
}
