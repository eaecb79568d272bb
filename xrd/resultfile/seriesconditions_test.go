package resultfile_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/resultfile"
)

func TestReadConditions(t *testing.T) {
	for name, text := range map[string]string{
		"comma":           "file,hours,section\na.xy,0,rolled\nb.xy,24,\n",
		"semicolon, mark": "\ufefffile;hours;section\r\na.xy;0;rolled\r\nb.xy;24;\r\n",
		"tab, gaps":       "file\thours\tsection\n\n a.xy \t0\trolled\n\t\t\nb.xy\t24\t\n",
		"quotes":          "\"file\",\"hours\",section\n\"a.xy\",0,\"rolled\"\nb.xy,\"24\",\"\"",
	} {
		c, err := resultfile.ReadConditions(strings.NewReader(text), "c.csv")
		require.NoError(t, err, name)
		assert.Equal(t, []string{"hours", "section"}, c.Columns, name)
		assert.Equal(t, map[string][]string{"a.xy": {"0", "rolled"}, "b.xy": {"24", ""}}, c.Rows, name)
	}
}

func TestReadConditionsRefuses(t *testing.T) {
	for _, c := range []struct {
		why, text string
		line      int
		want      error
	}{
		{"nothing", "", 0, resultfile.ErrNoRows},
		{"header only", "file,hours\n", 0, resultfile.ErrNoRows},
		{"one column", "file\na.xy\n", 1, resultfile.ErrNoColumns},
		{"a column without a name", "file,hours,\na.xy,1,2\n", 1, resultfile.ErrColumnName},
		{"a name twice", "file,hours,Hours\na.xy,1,2\n", 1, resultfile.ErrColumnName},
		{"a name that series.csv has", "file,weight_percent\na.xy,1\n", 1, resultfile.ErrColumnName},
		{"a file twice", "file,hours\na.xy,1\nb.xy,2\na.xy,3\n", 4, resultfile.ErrTwoRows},
		{"a short row is not the row before", "file,hours,C\na.xy,1,2\nb.xy,2\n", 3, resultfile.ErrRowLength},
		{"a long row", "file,hours\na.xy,1,2\n", 2, resultfile.ErrRowLength},
		{"no file name", "file,hours\n,1\n", 2, nil},
		{"a quote left open", "file,hours\n\"a.xy,1\n", 2, nil},
		{"another encoding", "file,temp\xe9rature\na.xy,1\n", 0, resultfile.ErrNotText},
		{"binary", "file,hours\x00\n", 0, resultfile.ErrNotText},
		{"too many columns", "file" + strings.Repeat(",c", 300) + "\n", 1, resultfile.ErrTooLong},
		{"too long", strings.Repeat("x", 17<<20), 0, resultfile.ErrTooLong},
	} {
		_, err := resultfile.ReadConditions(strings.NewReader(c.text), "c.csv")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, c.why)
		assert.Equal(t, "c.csv", at.File, c.why)
		assert.Equal(t, c.line, at.Line, c.why)
		assert.NotEmpty(t, at.Fix, c.why)
		if c.want != nil {
			assert.ErrorIs(t, err, c.want, c.why)
		}
	}
}

// What is accepted can be written as a table again and read to the same.
func FuzzReadConditions(f *testing.F) {
	f.Add("file,hours\na.xy,0\n")
	f.Add("\ufefffile;T (°C);x\r\n\"a;b\";1,5;\"two\nlines\"\r\n")
	f.Add(",;\n0,")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := resultfile.ReadConditions(strings.NewReader(text), "fuzz.csv")
		if err != nil {
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			return
		}
		quote := func(cells []string) string {
			var out []string
			for _, s := range cells {
				out = append(out, `"`+strings.ReplaceAll(s, `"`, `""`)+`"`)
			}
			return strings.Join(out, "\t") + "\n"
		}
		out := quote(append([]string{"file"}, c.Columns...))
		for file, row := range c.Rows {
			out += quote(append([]string{file}, row...))
		}
		again, err := resultfile.ReadConditions(strings.NewReader(out), "again.csv")
		require.NoError(t, err, "%q", out)
		require.Equal(t, c, again)
	})
}

func ExampleReadConditions() {
	c, err := resultfile.ReadConditions(strings.NewReader("file,hours,temperature_C\nageing-024h.xy,24,150\n"), "ageing.csv")
	fmt.Println(c.Columns, c.Rows["ageing-024h.xy"], err)
	_, err = resultfile.ReadConditions(strings.NewReader("file,hours\nageing-024h.xy\n"), "ageing.csv")
	fmt.Println(err)
	// Output:
	// [hours temperature_C] [24 150] <nil>
	// ageing.csv:2: a row is not as long as the header: 1 cells, 2 columns; fill or remove cells; put quotes around a text that holds the separator
}
