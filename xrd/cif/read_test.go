package cif_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/cif"
)

func read(t testing.TB, text string) cif.Document {
	t.Helper()
	doc, err := cif.Read(strings.NewReader(text), "test.cif")
	require.NoError(t, err)
	return doc
}

// Each row is a way to write one value; the rules are those of Int. Tables G 2.2.7 and, where it says so, of CIF 2.0.
func TestQuoting(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"bare", "abc", "abc"},
		{"number with uncertainty stays text", "0.3521(2)", "0.3521(2)"},
		{"single quotes", "'a b'", "a b"},
		{"double quotes", `"a b"`, "a b"},
		{"a quote inside ends nothing", "'Z. Krist. a'b'", "Z. Krist. a'b"},
		{"a quote before the end of the line does", "'a' # comment", "a"},
		{"empty", "''", ""},
		{"other quote inside", `"it's"`, "it's"},
		{"keyword in quotes", "'loop_'", "loop_"},
		{"hash inside a word", "a#b", "a#b"},
		{"hash in quotes", "'# no comment'", "# no comment"},
		{"semicolon not in the first column", "a;b", "a;b"},
		{"text field", "\n;one\n two\n;", "one\n two"},
		{"text field with a semicolon inside a line", "\n;a ; b\n;", "a ; b"},
		{"text field with keywords", "\n;\n loop_ data_ 'quotes\n _tag\n;", "\n loop_ data_ 'quotes\n _tag"},
		{"folded lines", "\n;\\\nlong \\\nline\n;", "long line"},
		{"prefixed lines", "\n;>\\\n>;a\n>b\n;", ";a\nb"},
		{"prefixed and folded", "\n;>\\\\\n>a \\\n>b\n;", "a b"},
		{"backslash that folds nothing", "\n;C:\\dir\nx\n;", "C:\\dir\nx"},
		{"triple quotes (2.0)", `'''it's "so" here'''`, `it's "so" here`},
		{"triple quotes over lines (2.0)", "\"\"\"a\nb\"\"\"", "a\nb"},
		{"minus", "-", "-"},
		{"dollar inside", "a$b", "a$b"},
		{"bracket at the start, 1.1", "[Co(NH3)6]", "[Co(NH3)6]"},
	} {
		doc := read(t, "data_x\n_tag "+c.source+"\n_next 1\n")
		assert.Equal(t, c.want, rawText(&doc.Blocks[0], "_tag"), c.name)
		assert.Equal(t, "1", rawText(&doc.Blocks[0], "_next"), c.name)
	}
}

// rawText returns a text with its blanks.
func rawText(b *cif.Block, tag string) string {
	if column := b.Column(tag); len(column) > 0 {
		return column[0].Text
	}
	return "(no " + tag + ")"
}

func TestUnknownIsNotQuestionMark(t *testing.T) {
	doc := read(t, "data_x\n_a ?\n_b .\n_c '?'\n_d \".\"\n_e 1\n")
	b := &doc.Blocks[0]
	for tag, given := range map[string]bool{"_a": false, "_b": false, "_c": true, "_d": true, "_e": true} {
		assert.Equal(t, given, b.Column(tag)[0].Given(), tag)
	}
	v, ok := b.Value("_a", "_missing", "_c")
	require.True(t, ok, "the first that is given")
	assert.Equal(t, "?", v.Text)
	_, ok = b.Value("_a", "_b")
	assert.False(t, ok)
}

func TestNamesAndAliases(t *testing.T) {
	doc := read(t, "DATA_One\n_CELL_Length_A 3\nData_two\n_cell.length_a 4\nLOOP_ _atom_site.label _atom_site.fract_x A 0 B 1\n")
	require.Len(t, doc.Blocks, 2)
	assert.Equal(t, []string{"One", "two"}, []string{doc.Blocks[0].Name, doc.Blocks[1].Name})
	assert.Equal(t, []int{1, 3}, []int{doc.Blocks[0].Line, doc.Blocks[1].Line})
	assert.Equal(t, "3", doc.Blocks[0].Text("_cell_length_a"))
	assert.Equal(t, "4", doc.Blocks[1].Text("_cell_length_a"), "dots of the newer dictionaries are underscores")
	loop, ok := doc.Blocks[1].Loop("_atom_site_label")
	require.True(t, ok)
	assert.Equal(t, 1, loop.Column("_ATOM_SITE_FRACT_X"))
	assert.Equal(t, -1, loop.Column("_atom_site_fract_y"))
	assert.Len(t, loop.Rows, 2)
	assert.Equal(t, []string{"_cell.length_a", "_atom_site.label", "_atom_site.fract_x"}, doc.Blocks[1].Tags())
	assert.Len(t, doc.Blocks[1].Loops(), 1)
}

// A file may give a value under its old and its new name; the first is found.
func TestAliasBesideOldName(t *testing.T) {
	doc := read(t, "data_x\n_cell_length_a 3\n_cell.length_a 3.0\n")
	assert.Equal(t, "3", doc.Blocks[0].Text("_cell.length_a"))
}

func TestLineNumbers(t *testing.T) {
	doc := read(t, "# one\ndata_x # two\n_a\n;text\nfive\n;\n_b 1\r\nloop_\n_c\n'x'\n\ny\n")
	b := &doc.Blocks[0]
	assert.Equal(t, 2, b.Line)
	assert.Equal(t, 4, b.Column("_a")[0].Line)
	assert.Equal(t, 7, b.Column("_b")[0].Line)
	assert.Equal(t, []int{10, 12}, []int{b.Column("_c")[0].Line, b.Column("_c")[1].Line})
}

func TestEncodings(t *testing.T) {
	const plain = "data_x\n_a 'Å 1'\n_b 2\n"
	want := read(t, plain)
	for name, text := range map[string]string{
		"CRLF": strings.ReplaceAll(plain, "\n", "\r\n"), "CR": strings.ReplaceAll(plain, "\n", "\r"),
		"byte order mark": "\ufeff" + plain, "Latin-1": strings.ReplaceAll(plain, "Å", "\xc5"), "old end mark": plain + "\x1a",
	} {
		assert.Equal(t, want, read(t, text), name)
	}
}

func TestSaveFramesAreSkipped(t *testing.T) {
	doc := read(t, "data_x\n_a 1\nsave_frame\n_a 2\nloop_ _c 1 2\nsave_\n_b 3\n")
	assert.Equal(t, []string{"_a", "_b"}, doc.Blocks[0].Tags())
	assert.Equal(t, "1", doc.Blocks[0].Text("_a"))
}

func TestListsOfCIF2(t *testing.T) {
	doc := read(t, "#\\#CIF_2.0\ndata_x\n_a [1 [2 3] '] ' {'k':4}]\n_b {'x':[1\n2]}\n_c 5\n")
	b := &doc.Blocks[0]
	assert.Equal(t, "[1 [2 3] '] ' {'k':4}]", b.Text("_a"))
	assert.Equal(t, "{'x':[1\n2]}", b.Text("_b"))
	assert.Equal(t, 6, b.Column("_c")[0].Line)
}

func TestEmptyLoop(t *testing.T) {
	doc := read(t, "data_x\nloop_\n_a\n_b\ndata_y\n_c 1\n")
	loop, ok := doc.Blocks[0].Loop("_b")
	require.True(t, ok)
	assert.Empty(t, loop.Rows)
	assert.Empty(t, doc.Blocks[0].Column("_a"))
	_, given := doc.Blocks[0].Value("_a")
	assert.False(t, given)
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       error
		line       int
	}{
		{"empty file", "", cif.ErrNoBlocks, 0},
		{"only comments", "# nothing\n", cif.ErrNoBlocks, 0},
		{"no heading", "\n1 2\n3 4\n", cif.ErrOutOfBlock, 2},
		{"quotation over the line", "data_x\n_a 'b\n_c 1\n", cif.ErrUnclosed, 2},
		{"text field", "data_x\n_a\n;b\n_c 1\n", cif.ErrUnclosed, 3},
		{"list", "#\\#CIF_2.0\ndata_x\n_a [1 2\n", cif.ErrUnclosed, 3},
		{"quotation in a list", "#\\#CIF_2.0\ndata_x\n_a ['1 2]\n", cif.ErrUnclosed, 3},
		{"deep list", "#\\#CIF_2.0\ndata_x\n_a " + strings.Repeat("[", 100) + strings.Repeat("]", 100), cif.ErrNested, 3},
		{"stray value", "data_x\n_a 1 2\n", cif.ErrStray, 2},
		{"tag without value", "data_x\n_a\n_b 1\n", cif.ErrNoValue, 2},
		{"tag at the end", "data_x\n_a", cif.ErrNoValue, 2},
		{"half a row", "data_x\nloop_\n_a\n_b\n1 2\n3\n", cif.ErrLoopLength, 6},
		{"loop without tags", "data_x\nloop_\n1 2\n", cif.ErrLoopNoTags, 2},
		{"twice", "data_x\n_a 1\n_A 2\n", cif.ErrTwice, 3},
		{"twice in a loop", "data_x\nloop_ _a _a 1 2\n", cif.ErrTwice, 2},
		{"reserved", "data_x\nglobal_\n", cif.ErrReserved, 2},
		{"reserved stop", "data_x\n_a 1\nstop_\n", cif.ErrReserved, 3},
		{"frame never ends", "data_x\nsave_f\n_a 1\n", cif.ErrOpenFrame, 2},
		{"frame end without frame", "data_x\nsave_\n", cif.ErrBadName, 2},
		{"bare underscore", "data_x\n_ 1\n", cif.ErrBadName, 2},
		{"binary", "data_x\n_a \x00\x01\n", cif.ErrCharacter, 2},
	} {
		_, err := cif.Read(strings.NewReader(c.text), "bad.cif")
		var at *xrd.SyntaxError
		if assert.ErrorAs(t, err, &at, c.name) {
			assert.ErrorIs(t, err, c.want, c.name)
			assert.Equal(t, c.line, at.Line, c.name)
			assert.Equal(t, "bad.cif", at.File, c.name)
			assert.NotEmpty(t, at.Fix, c.name)
		}
	}
}

func TestReaderErrorIsPassedOn(t *testing.T) {
	broken := errors.New("disk gone")
	_, err := cif.Read(iotest.ErrReader(broken), "x.cif")
	assert.ErrorIs(t, err, broken)
}

func TestTooBig(t *testing.T) {
	_, err := cif.Read(endless{}, "big.cif")
	assert.ErrorIs(t, err, cif.ErrTooBig)
}

// endless is a file of blanks without end.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	return len(p), nil
}

// Every file of the oracle is read; the awkward ones are made to break readers.
func TestOracleFiles(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/oracle/cif*/*.cif")
	if files == nil {
		t.Skip("NOT CHECKED: ../shared/oracle is absent")
	}
	for _, name := range files {
		f, err := os.Open(name)
		require.NoError(t, err)
		doc, err := cif.Read(f, name)
		f.Close()
		require.NoError(t, err)
		assert.NotNil(t, doc.Blocks[len(doc.Blocks)-1].Column("_atom_site_fract_x"), name)
	}
}

func ExampleRead() {
	const text = "data_quartz\n_cell_length_a 4.9134(2)\nloop_\n_atom_site_label\n_atom_site_fract_x\nSi1 0.4697\nO1 ?\n"
	doc, err := cif.Read(strings.NewReader(text), "quartz.cif")
	if err != nil {
		fmt.Println(err)
		return
	}
	block := &doc.Blocks[0]
	edge, _ := block.Value("_cell_length_a")
	a, su, _ := edge.Number()
	fmt.Println(block.Name, a, su)
	for i, x := range block.Column("_atom_site_fract_x") {
		fmt.Println(block.Column("_atom_site_label")[i].Text, x.Text, x.Given())
	}
	_, err = cif.Read(strings.NewReader(text+"C1\n"), "quartz.cif")
	fmt.Println(err)
	// Output:
	// quartz 4.9134 0.0002
	// Si1 0.4697 true
	// O1 ? false
	// quartz.cif:8: loop values do not fill its rows: 5 values for 2 columns of the loop in line 3; complete the last row; put quotes around text that has blanks
}

// What a writer of dictionaries or of scans may do to a reader: many blocks, wide loops, long lines, all at once.
func TestLargeFile(t *testing.T) {
	var text strings.Builder
	for block := range 50 {
		fmt.Fprintf(&text, "data_b%d\n_long '%s'\nloop_\n", block, strings.Repeat("x ", 5000))
		for column := range 40 {
			fmt.Fprintf(&text, "_column_%d\n", column)
		}
		for row := range 20 {
			text.WriteString(strings.Repeat(fmt.Sprintf("%d ", row), 40) + "\n")
		}
	}
	doc := read(t, text.String())
	require.Len(t, doc.Blocks, 50)
	for i := range doc.Blocks {
		b := &doc.Blocks[i]
		assert.Equal(t, fmt.Sprintf("b%d", i), b.Name)
		assert.Len(t, b.Text("_long"), 9999)
		assert.Len(t, b.Column("_column_39"), 20)
		assert.Equal(t, "19", b.Column("_column_0")[19].Text)
		assert.Len(t, b.Tags(), 41)
	}
}

// The zero block, and lookups that find nothing, are no trouble.
func TestEmptyBlock(t *testing.T) {
	var b cif.Block
	assert.Nil(t, b.Column("_a"))
	assert.Empty(t, b.Text("_a", "_b"))
	assert.Nil(t, b.Tags())
	assert.Nil(t, b.Loops())
	_, ok := b.Loop("_a")
	assert.False(t, ok)
	require.NoError(t, b.Set("_a", cif.Number(2)))
	assert.Equal(t, "2", b.Text("_A"))
	_, ok = b.Loop("_a")
	assert.False(t, ok, "an item is no loop")
}

// Many short values take far more memory than the file: a file that is within the limit of bytes may still be refused.
func TestTooManyValues(t *testing.T) {
	for _, head := range []string{"loop_\n_a\n", "loop_\n_a\n_b\n"} {
		text := "data_x\n" + head + strings.Repeat("1\n", cif.MaxValues+1)
		_, err := cif.Read(strings.NewReader(text), "test.cif")
		require.ErrorIs(t, err, cif.ErrTooBig)
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at)
		assert.Equal(t, 1+strings.Count("data_x\n"+head, "\n")+cif.MaxValues, at.Line)
	}
	var many strings.Builder
	for i := range cif.MaxItems + 1 {
		fmt.Fprintf(&many, "_t%d 1\n", i)
	}
	_, err := cif.Read(strings.NewReader("data_x\n"+many.String()), "test.cif")
	require.ErrorIs(t, err, cif.ErrTooBig)
	most := cif.MaxValues / 2 * 2
	doc := read(t, "data_x\nloop_\n_a\n_b\n"+strings.Repeat("1\n", most))
	l, ok := doc.Blocks[0].Loop("_a")
	require.True(t, ok)
	assert.Len(t, l.Rows, most/2)
}
