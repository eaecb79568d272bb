package cif

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"
)

// MaxBytes is the size of the biggest file that is read.
const MaxBytes = 64 << 20

// MaxValues is the most values of a file that is read: three columns of the longest scan. Each takes twenty times of what it took in the file.
const MaxValues = 3 << 20

// MaxItems is the most items and loops of a block: dictionaries know some thousands.
const MaxItems = 1 << 16

// Read reads a file; name is for messages. Save frames are skipped. The error is an *xrd.SyntaxError, or that of r.
func Read(r io.Reader, name string) (Document, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return Document{}, fmt.Errorf("%s: %w", name, err)
	}
	s := &scanner{file: name, line: 1}
	if len(raw) > MaxBytes {
		return Document{}, s.fail(0, ErrTooBig, fmt.Sprintf("keep it below %d MiB", MaxBytes>>20))
	}
	s.src = normalise(raw)
	if i := firstControl(s.src); i >= 0 {
		line := 1 + strings.Count(s.src[:i], "\n")
		return Document{}, s.fail(line, fmt.Errorf("%w %q", ErrCharacter, s.src[i]), "save the file as plain text")
	}
	s.cif2 = strings.HasPrefix(s.src, `#\#CIF_2.0`)
	p := parser{scanner: s}
	if err := p.run(); err != nil {
		return Document{}, err
	}
	if len(p.doc.Blocks) == 0 {
		return Document{}, s.fail(0, ErrNoBlocks, "a CIF has at least one line that starts with data_")
	}
	return p.doc, nil
}

func control(r rune) bool { return r < ' ' && r != '\n' && r != '\t' || r == 0x7f }

// firstControl returns the place of the first control character, −1 without one.
func firstControl(s string) int {
	for i := range len(s) {
		if c := s[i]; c < ' ' && c != '\n' && c != '\t' || c == 0x7f {
			return i
		}
	}
	return -1
}

// normalise drops a byte order mark, turns Latin-1 into UTF-8, and every line end into \n.
func normalise(raw []byte) string {
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(raw) {
		wide := make([]rune, len(raw))
		for i, b := range raw {
			wide[i] = rune(b)
		}
		raw = []byte(string(wide))
	}
	s := strings.ReplaceAll(string(raw), "\r\n", "\n")
	s = strings.ReplaceAll(s, "\r", "\n")
	return strings.TrimSuffix(strings.ReplaceAll(s, "\f", " "), "\x1a") // form feeds and the end mark of old systems
}

// A parser builds blocks of tokens; ahead is a token that was read too early.
type parser struct {
	*scanner
	doc    Document
	ahead  *token
	values int // read so far
}

func (p *parser) token() (token, error) {
	if t := p.ahead; t != nil {
		p.ahead = nil
		return *t, nil
	}
	t, err := p.next()
	if t.kind == value {
		p.values++
	}
	if p.values > MaxValues {
		return t, p.fail(t.line, fmt.Errorf("%w: more than %d values", ErrTooBig, MaxValues), "cut it into parts")
	}
	return t, err
}

func (p *parser) run() error {
	for {
		t, err := p.token()
		if err != nil {
			return err
		}
		switch t.kind {
		case endOfFile:
			return nil
		case dataHeading:
			p.doc.Blocks = append(p.doc.Blocks, Block{Name: t.text, Line: t.line})
			continue
		}
		if len(p.doc.Blocks) == 0 {
			return p.fail(t.line, fmt.Errorf("%w: %.40s", ErrOutOfBlock, t.text), "begin with a line data_name; is it a CIF at all?")
		}
		if err := p.inside(t, &p.doc.Blocks[len(p.doc.Blocks)-1]); err != nil {
			return err
		}
	}
}

// inside reads what starts with t in a block.
func (p *parser) inside(t token, b *Block) error {
	switch t.kind {
	case tagName:
		return p.item(t, b)
	case loopWord:
		return p.loop(t, b)
	case saveHeading:
		return p.skipFrame(t)
	}
	return p.fail(t.line, fmt.Errorf("%w: %.40s", ErrStray, t.text), "put a tag before it, or quotes around text that has blanks")
}

func (p *parser) item(t token, b *Block) error {
	v, err := p.token()
	if err != nil {
		return err
	}
	if v.kind != value {
		return p.fail(t.line, fmt.Errorf("%w: %s", ErrNoValue, t.text), "give a value, or ? when it is not known")
	}
	return p.keep(t.line, b, part{tag: t.text, value: Value{v.text, v.quoted, v.line}})
}

func (p *parser) keep(line int, b *Block, add part) error {
	if len(b.parts) == MaxItems {
		return p.fail(line, fmt.Errorf("%w: more than %d items and loops in a block", ErrTooBig, MaxItems), "leave out what is not needed")
	}
	if again := b.add(add); again != "" {
		return p.fail(line, fmt.Errorf("%w: %s", ErrTwice, again), "remove one of them")
	}
	return nil
}

func (p *parser) loop(start token, b *Block) error {
	l := &Loop{Line: start.line}
	t, err := p.token()
	for ; err == nil && t.kind == tagName; t, err = p.token() {
		l.Tags = append(l.Tags, t.text)
	}
	var all []Value
	for ; err == nil && t.kind == value; t, err = p.token() {
		all = append(all, Value{t.text, t.quoted, t.line})
	}
	if err != nil {
		return err
	}
	p.ahead = &t
	n := len(l.Tags)
	switch {
	case n == 0:
		return p.fail(start.line, ErrLoopNoTags, "name the columns after loop_")
	case len(all)%n != 0:
		return p.fail(all[len(all)-1].Line, fmt.Errorf("%w: %d values for %d columns of the loop in line %d", ErrLoopLength, len(all), n, start.line),
			"complete the last row; put quotes around text that has blanks")
	}
	l.Rows = make([][]Value, 0, len(all)/n)
	for ; len(all) > 0; all = all[n:] {
		l.Rows = append(l.Rows, all[:n:n])
	}
	return p.keep(start.line, b, part{loop: l})
}

// skipFrame passes over a save frame, which only dictionaries use.
func (p *parser) skipFrame(start token) error {
	if start.text == "" {
		return p.fail(start.line, fmt.Errorf("%w: save_ ends no frame", ErrBadName), "remove it")
	}
	for {
		t, err := p.token()
		switch {
		case err != nil:
			return err
		case t.kind == endOfFile || t.kind == dataHeading:
			return p.fail(start.line, ErrOpenFrame, "end it with save_")
		case t.kind == saveHeading && t.text == "":
			return nil
		}
	}
}
