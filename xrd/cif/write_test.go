package cif_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/cif"
)

// roundTrip writes a block and reads it back.
func roundTrip(t testing.TB, b *cif.Block) *cif.Block {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, cif.Write(&out, cif.Document{Blocks: []cif.Block{*b}}))
	doc, err := cif.Read(&out, "again.cif")
	require.NoError(t, err)
	require.Len(t, doc.Blocks, 1)
	return &doc.Blocks[0]
}

// awkward texts, each of which some way of quoting would garble.
var awkward = []string{
	"", " ", "a", "?", ".", "-", "_tag", "#x", "$f", "'", `"`, "''", `""`, "'''", `"""`, "it's", `say "so"`, `it's "so"`, "a' b", `a" b`, `a' b" c`, "ends with '",
	`ends with "`, "data_x", "DATA_", "loop_", "save_", "stop_", "global_", "loop_x", "two\nlines", "\nleading", "trailing\n", ";", ";x", "a\n;b", "a\n;", "\\", "a\\\nb",
	"\\\nb", ">\\\n>x", "x\\", "[1]", "{a}", "]", "tab\there", "Å θ 2θ", "\ufeffmark", "line\r\nend", "line\rend", " lead", "trail ", "1.5(2)", "a;b", "\\ \nb", "'a' 'b'", `x' y"`,
}

func TestEveryTextIsReadBack(t *testing.T) {
	for _, text := range awkward {
		want := strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\r", "\n")
		b := cif.NewBlock("x")
		require.NoError(t, b.Set("_item", cif.Text(text)))
		require.NoError(t, b.AddLoop([]string{"_a", "_b", "_c"}, [][]cif.Value{
			{cif.Text(text), cif.Text(text), cif.Text("z")}, {cif.Text("z"), cif.Text(text), cif.Text(text)},
		}))
		require.NoError(t, b.Set("_last", cif.Number(1)))
		again := roundTrip(t, b)
		assert.Equal(t, want, rawText(again, "_item"), "%q", text)
		assert.True(t, again.Column("_item")[0].Given(), "%q", text)
		rows, _ := again.Loop("_a")
		require.Len(t, rows.Rows, 2, "%q", text)
		assert.Equal(t, []string{want, want, "z", "z", want, want}, texts(rows.Rows), "%q", text)
		assert.Equal(t, "1", rawText(again, "_last"), "%q", text)
	}
}

func texts(rows [][]cif.Value) (list []string) {
	for _, row := range rows {
		for _, v := range row {
			list = append(list, v.Text)
		}
	}
	return list
}

// Random texts of the characters that quoting is about.
func TestRandomTextIsReadBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	const alphabet = "a '\"\n;\\#_>[]{}\t?.$b"
	for range 20000 {
		raw := make([]byte, rng.IntN(9))
		for i := range raw {
			raw[i] = alphabet[rng.IntN(len(alphabet))]
		}
		b := cif.NewBlock("x")
		require.NoError(t, b.Set("_item", cif.Text(string(raw))))
		require.NoError(t, b.AddLoop([]string{"_a", "_b"}, [][]cif.Value{{cif.Text(string(raw)), cif.Text(string(raw))}}))
		again := roundTrip(t, b)
		require.Equal(t, string(raw), rawText(again, "_item"))
		require.Equal(t, string(raw), rawText(again, "_a"))
		require.Equal(t, string(raw), rawText(again, "_b"))
	}
}

func TestUnprintableIsReplaced(t *testing.T) {
	b := cif.NewBlock("x")
	require.NoError(t, b.Set("_a", cif.Text("a\x00b\xffc\x1b")))
	assert.Equal(t, "a\uFFFDb\uFFFDc\uFFFD", rawText(roundTrip(t, b), "_a"))
}

func TestUnknownStaysUnknown(t *testing.T) {
	b := cif.NewBlock("")
	require.NoError(t, b.Set("_a", cif.Unknown))
	require.NoError(t, b.Set("_b", cif.Inapplicable))
	again := roundTrip(t, b)
	assert.False(t, again.Column("_a")[0].Given())
	assert.False(t, again.Column("_b")[0].Given())
	assert.Equal(t, "_", again.Name)
}

func TestBuilderRefuses(t *testing.T) {
	b := cif.NewBlock("a name")
	assert.Equal(t, "a_name", b.Name)
	require.NoError(t, b.Set("_a", cif.Number(1)))
	assert.ErrorIs(t, b.Set("_A", cif.Number(1)), cif.ErrTwice)
	assert.ErrorIs(t, b.Set("a", cif.Number(1)), cif.ErrBadName)
	assert.ErrorIs(t, b.Set("_a b", cif.Number(1)), cif.ErrBadName)
	assert.ErrorIs(t, b.AddLoop(nil, nil), cif.ErrLoopNoTags)
	assert.ErrorIs(t, b.AddLoop([]string{"_b", "_c"}, [][]cif.Value{{cif.Number(1)}}), cif.ErrLoopLength)
	assert.ErrorIs(t, b.AddLoop([]string{"_b", "_b"}, nil), cif.ErrTwice)
	assert.ErrorIs(t, b.AddLoop([]string{"_b", ""}, nil), cif.ErrBadName)
	assert.NoError(t, b.Set("_b", cif.Number(1)), "a refused loop leaves nothing behind")
}

func ExampleWrite() {
	b := cif.NewBlock("bushing")
	_ = b.Set("_cell_length_a", cif.Measured(3.61491, 0.00012))
	_ = b.Set("_publ_section_title", cif.Text("a 'tinned' bushing"))
	_ = b.AddLoop([]string{"_atom_site_label", "_atom_site_occupancy"}, [][]cif.Value{{cif.Text("Cu1"), cif.Unknown}})
	if err := cif.Write(os.Stdout, cif.Document{Blocks: []cif.Block{*b}}); err != nil {
		fmt.Println(err)
	}
	// Output:
	// #\#CIF_1.1
	// data_bushing
	// _cell_length_a 3.61491(12)
	// _publ_section_title "a 'tinned' bushing"
	// loop_
	// _atom_site_label
	// _atom_site_occupancy
	// Cu1 ?
}

// CIF 1.1 allows nothing but ASCII in a word without quotes, and foreign readers refuse more; blanks of other scripts count
// as letters to some and as blanks to others.
func TestWordsOfOtherScriptsAreQuoted(t *testing.T) {
	for _, word := range []string{"Ölprobe", "日本語", "образец", "δείγμα", "عينة", "दमूना", "a\u00a0b", "x\u3000y"} {
		b := cif.NewBlock("x")
		require.NoError(t, b.Set("_item", cif.Text(word)))
		var out bytes.Buffer
		require.NoError(t, cif.Write(&out, cif.Document{Blocks: []cif.Block{*b}}))
		assert.Contains(t, out.String(), "_item '"+word+"'\n")
		assert.Equal(t, word, roundTrip(t, b).Text("_item"))
	}
}
