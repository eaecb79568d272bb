package cif

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// NewBlock returns an empty block. Characters of the name that CIF does not allow become underscores.
func NewBlock(name string) *Block {
	clean := strings.Map(func(r rune) rune {
		if r > ' ' && r < 0x7f {
			return r
		}
		return '_'
	}, name)
	if clean == "" {
		clean = "_"
	}
	return &Block{Name: clean}
}

// Set adds an item. It returns ErrBadName for what is no tag and ErrTwice for a tag that is there already.
func (b *Block) Set(tag string, v Value) error {
	if err := checkTag(tag); err != nil {
		return err
	}
	return twice(b.add(part{tag: tag, value: v}))
}

// AddLoop adds a loop. Rows must be as long as tags (ErrLoopLength) and there must be a tag (ErrLoopNoTags).
func (b *Block) AddLoop(tags []string, rows [][]Value) error {
	if len(tags) == 0 {
		return ErrLoopNoTags
	}
	for _, tag := range tags {
		if err := checkTag(tag); err != nil {
			return err
		}
	}
	for i, row := range rows {
		if len(row) != len(tags) {
			return fmt.Errorf("%w: row %d has %d values for %d columns", ErrLoopLength, i+1, len(row), len(tags))
		}
	}
	return twice(b.add(part{loop: &Loop{Tags: tags, Rows: rows}}))
}

func twice(again string) error {
	if again != "" {
		return fmt.Errorf("%w: %s", ErrTwice, again)
	}
	return nil
}

func checkTag(tag string) error {
	if len(tag) < 2 || tag[0] != '_' || strings.ContainsFunc(tag, func(r rune) bool { return r <= ' ' || r >= 0x7f }) {
		return fmt.Errorf("%w: %q is no tag", ErrBadName, tag)
	}
	return nil
}

// Write writes a document so that Read gives the same names, tags and texts back. A line end of any kind in a text becomes \n;
// control characters and bytes that are not UTF-8 become the replacement character.
func Write(w io.Writer, d Document) error {
	out := bufio.NewWriter(w)
	fmt.Fprintln(out, `#\#CIF_1.1`)
	for i := range d.Blocks {
		writeBlock(out, &d.Blocks[i])
	}
	return out.Flush()
}

func writeBlock(out *bufio.Writer, b *Block) {
	fmt.Fprintf(out, "data_%s\n", b.Name)
	for _, p := range b.parts {
		if p.loop == nil {
			text := quoted(p.value)
			if !strings.HasPrefix(text, "\n") {
				text = " " + text
			}
			fmt.Fprintf(out, "%s%s\n", p.tag, text)
			continue
		}
		fmt.Fprintf(out, "loop_\n%s\n", strings.Join(p.loop.Tags, "\n"))
		for _, row := range p.loop.Rows {
			writeRow(out, row)
		}
	}
}

func writeRow(out *bufio.Writer, row []Value) {
	for i, v := range row {
		text := quoted(v)
		if i > 0 && !strings.HasPrefix(text, "\n") {
			out.WriteByte(' ')
		} else if i == 0 {
			text = strings.TrimPrefix(text, "\n")
		}
		out.WriteString(text)
	}
	out.WriteByte('\n')
}

// quoted returns a value as it stands in a file; a text field starts with a line end.
func quoted(v Value) string {
	if !v.Quoted && likeNumber(v.Text) { // most values of a profile, and no word of the syntax
		return v.Text
	}
	text := printable(v.Text)
	switch {
	case !v.Given() || !v.Quoted && bare(text) || v.Quoted && bare(text) && text != "?" && text != ".":
		return text
	case quotable(text, '\''):
		return "'" + text + "'"
	case quotable(text, '"'):
		return `"` + text + `"`
	}
	return textField(text)
}

// likeNumber reports whether a text has only characters that numbers have.
func likeNumber(text string) bool {
	return text != "" && strings.Trim(text, "0123456789.-+e()") == ""
}

// bare reports whether a text needs no quotes. CIF 1.1 allows ASCII only there, and readers keep to it.
func bare(text string) bool {
	if strings.ContainsFunc(text, func(r rune) bool { return r <= ' ' || r >= 0x7f }) {
		return false
	}
	if text == "" || strings.ContainsAny(text, " \t\n") || strings.ContainsAny(text[:1], `_#$'";[]{}`) {
		return false
	}
	lower := strings.ToLower(text)
	for _, word := range []string{"data_", "save_", "loop_", "stop_", "global_"} {
		if strings.HasPrefix(lower, word) {
			return false
		}
	}
	return !strings.HasPrefix(text, "\uFEFF")
}

// quotable reports whether a text can stand between two quotes of a kind.
func quotable(text string, quote byte) bool {
	if strings.Contains(text, "\n") || strings.HasPrefix(text, string(quote)) {
		return false
	}
	for i := 0; i+1 < len(text); i++ {
		if text[i] == quote && blank(text[i+1]) {
			return false
		}
	}
	return !strings.HasSuffix(text, string(quote))
}

// textField puts a text between semicolons, with a prefix where it would be misread.
func textField(text string) string {
	first, _, _ := strings.Cut(text, "\n")
	if strings.Contains(text, "\n;") || strings.HasSuffix(strings.TrimRight(first, " \t"), `\`) {
		return "\n;>\\\n>" + strings.ReplaceAll(text, "\n", "\n>") + "\n;"
	}
	return "\n;" + text + "\n;"
}

// printable makes line ends \n and replaces what cannot be written.
func printable(text string) string {
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
	if !utf8.ValidString(text) {
		text = strings.ToValidUTF8(text, "\uFFFD")
	}
	return strings.Map(func(r rune) rune {
		if control(r) || unicode.Is(unicode.Cs, r) {
			return '\uFFFD'
		}
		return r
	}, text)
}
