package cif

import (
	"errors"
	"fmt"
	"strings"

	"phasetally/xrd"
)

// kind says what a token is.
type kind int

const (
	endOfFile kind = iota
	dataHeading
	saveHeading // of a save frame, or its end when the name is empty
	loopWord
	tagName
	value
)

// A token is one piece of a file; text is the name or the value without quotes.
type token struct {
	kind   kind
	text   string
	quoted bool
	line   int
}

// A scanner cuts text into tokens. Line ends are \n only.
type scanner struct {
	file string
	src  string
	pos  int
	line int
	cif2 bool // the magic code says CIF 2.0: brackets and braces open lists and tables
}

// maxNesting is the deepest list in a list that is read.
const maxNesting = 64

// Errors of Read, found in the *xrd.SyntaxError; test with errors.Is.
var (
	ErrUnclosed   = errors.New("quotation, text or list is not closed")
	ErrTooBig     = errors.New("file is too big")
	ErrNested     = errors.New("lists are nested too deep")
	ErrReserved   = errors.New("reserved word")
	ErrStray      = errors.New("value without a tag")
	ErrNoValue    = errors.New("tag without a value")
	ErrLoopLength = errors.New("loop values do not fill its rows")
	ErrTwice      = errors.New("tag is given twice in a block")
	ErrLoopNoTags = errors.New("loop without tags")
	ErrOutOfBlock = errors.New("data before the first data_ heading")
	ErrCharacter  = errors.New("control character")
	ErrNoBlocks   = errors.New("no data block")
	ErrBadName    = errors.New("bad name")
	ErrOpenFrame  = errors.New("save frame is not closed")
)

func (s *scanner) fail(line int, err error, fix string) error {
	return &xrd.SyntaxError{File: s.file, Line: line, Err: err, Fix: fix}
}

func blank(c byte) bool { return c == ' ' || c == '\t' || c == '\n' }

// next returns the next token.
func (s *scanner) next() (token, error) {
	s.skipBlanks()
	if s.pos >= len(s.src) {
		return token{kind: endOfFile, line: s.line}, nil
	}
	switch c := s.src[s.pos]; {
	case c == ';' && (s.pos == 0 || s.src[s.pos-1] == '\n'):
		return s.textField()
	case c == '\'' || c == '"':
		return s.quotation()
	case s.cif2 && (c == '[' || c == '{'):
		return s.bracketed()
	}
	return s.word()
}

func (s *scanner) skipBlanks() {
	for s.pos < len(s.src) {
		switch c := s.src[s.pos]; {
		case c == '\n':
			s.line++
			s.pos++
		case blank(c):
			s.pos++
		case c == '#':
			s.pos += lineLength(s.src[s.pos:])
		default:
			return
		}
	}
}

// lineLength returns the number of bytes before the line end.
func lineLength(s string) int {
	if i := strings.IndexByte(s, '\n'); i >= 0 {
		return i
	}
	return len(s)
}

// wordLength returns the number of bytes before the first blank.
func wordLength(s string) int {
	for i := range len(s) {
		if blank(s[i]) {
			return i
		}
	}
	return len(s)
}

func (s *scanner) take(n int) token {
	t := token{kind: value, text: s.src[s.pos : s.pos+n], quoted: true, line: s.line}
	s.line += strings.Count(t.text, "\n")
	s.pos += n
	return t
}

// textField reads from a semicolon in the first column to the next one there.
func (s *scanner) textField() (token, error) {
	line := s.line
	s.pos++
	n := strings.Index(s.src[s.pos:], "\n;")
	if n < 0 {
		return token{}, s.fail(line, ErrUnclosed, "end the text with a semicolon alone at the start of a line")
	}
	t := s.take(n)
	s.take(2)
	t.text = unfold(t.text)
	return t, nil
}

// unfold undoes the text prefix and the line folding protocols (Int. Tables G 2.2.7.4.11, CIF 2.0): a first line that is the
// prefix and one or two backslashes.
func unfold(text string) string {
	first, rest, more := strings.Cut(text, "\n")
	first = strings.TrimRight(first, " \t")
	if !more || !strings.HasSuffix(first, `\`) {
		return text
	}
	prefix := strings.TrimSuffix(first, `\`)
	folded := prefix == ""
	if p, two := strings.CutSuffix(prefix, `\`); two {
		prefix, folded = p, true
	}
	if strings.Contains(prefix, `\`) {
		return text
	}
	lines := strings.Split(rest, "\n")
	for i, l := range lines {
		cut, ok := strings.CutPrefix(l, prefix)
		if !ok {
			return text
		}
		lines[i] = cut
	}
	if !folded {
		return strings.Join(lines, "\n")
	}
	var b strings.Builder
	for i, l := range lines {
		if bare, open := strings.CutSuffix(strings.TrimRight(l, " \t"), `\`); open {
			b.WriteString(bare)
			continue
		}
		b.WriteString(l)
		if i < len(lines)-1 {
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// quotation reads '…', "…", ”'…”' or """…""". A single quotation ends at a quote that is followed by a blank, so that
// 'a'b' is a'b, and does not cross a line.
func (s *scanner) quotation() (token, error) {
	quote := s.src[s.pos : s.pos+1]
	if three := strings.Repeat(quote, 3); strings.HasPrefix(s.src[s.pos:], three) {
		if n := strings.Index(s.src[s.pos+3:], three); n >= 0 {
			s.pos += 3
			t := s.take(n)
			s.pos += 3
			return t, nil
		}
	}
	rest := s.src[s.pos+1:]
	end := lineLength(rest)
	for i := 0; i < end; i++ {
		if rest[i] == quote[0] && (i+1 == len(rest) || blank(rest[i+1])) {
			s.pos++
			t := s.take(i)
			s.pos++
			return t, nil
		}
	}
	return token{}, s.fail(s.line, fmt.Errorf("%w: %.40s", ErrUnclosed, s.src[s.pos:s.pos+1+end]),
		"close the quotation on the same line, or use a text field between semicolons")
}

// bracketed keeps the source text of a list or table of CIF 2.0.
func (s *scanner) bracketed() (token, error) {
	depth, i, line := 0, s.pos, s.line
	for i < len(s.src) {
		switch c := s.src[i]; c {
		case '[', '{':
			if depth++; depth > maxNesting {
				return token{}, s.fail(line, ErrNested, fmt.Sprintf("nest at most %d lists", maxNesting))
			}
		case ']', '}':
			if depth--; depth == 0 {
				t := s.take(i + 1 - s.pos)
				return t, nil
			}
		case '\'', '"':
			n := strings.IndexByte(s.src[i+1:], c)
			if n < 0 {
				return token{}, s.fail(line, ErrUnclosed, "close the quotation inside the list")
			}
			i += n + 1
		}
		i++
	}
	return token{}, s.fail(line, ErrUnclosed, "close the list with ] or the table with }")
}

// word reads to the next blank: a heading, a tag, or a value without quotes.
func (s *scanner) word() (token, error) {
	t := s.take(wordLength(s.src[s.pos:]))
	t.quoted = false
	if strings.IndexByte(t.text, '_') < 0 {
		return t, nil // a value, quickly: scans have a hundred thousand of them
	}
	lower := strings.ToLower(t.text[:min(len(t.text), 7)])
	switch {
	case t.text[0] == '_':
		t.kind = tagName
		if len(t.text) == 1 {
			return t, s.fail(t.line, fmt.Errorf("%w: a tag needs letters after _", ErrBadName), "complete or remove it")
		}
	case strings.HasPrefix(lower, "data_"):
		t.kind, t.text = dataHeading, t.text[5:]
	case strings.HasPrefix(lower, "save_"):
		t.kind, t.text = saveHeading, t.text[5:]
	case len(t.text) == 5 && lower == "loop_":
		t.kind = loopWord
	case len(t.text) == 7 && lower == "global_", len(t.text) == 5 && lower == "stop_":
		return t, s.fail(t.line, fmt.Errorf("%w %s", ErrReserved, t.text), "remove it, or put it in quotes if it is a value")
	}
	return t, nil
}
