package resultfile_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/refdata/listfile"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

func german(t testing.TB) resultfile.Locale {
	t.Helper()
	l, err := resultfile.ParseLocale("de")
	require.NoError(t, err)
	return l
}

// What a German spreadsheet gets: the mark of UTF-8, semicolons, decimal commas; names stay as they are. "1.5" of a specimen's
// name would be changed too, as the spreadsheet itself would read it.
func TestGermanTables(t *testing.T) {
	raw := []byte("phase,wt,id\nquartz,12.5,a.b\n\"x, y\",-1.5e-07,1.2.3\n\"semi;colon\",7,.5\n")
	want := "\ufeffphase;wt;id\nquartz;12,5;a.b\nx, y;-1,5e-07;1.2.3\n\"semi;colon\";7;,5\n"
	assert.Equal(t, want, string(resultfile.Localised(raw, german(t))))
	assert.Equal(t, string(raw), string(resultfile.Localised(raw, resultfile.Locale{})))
	_, err := resultfile.ParseLocale("fr")
	assert.ErrorContains(t, err, `"fr": give de`)
}

// A folder with German tables is read back to the digit, fit.csv included.
func TestGermanFolderIsReadBack(t *testing.T) {
	dir := t.TempDir()
	r := resulttest.Mixture(3)
	require.NoError(t, resultfile.Write(filepath.Join(dir, "en"), r, nil, resultfile.Options{}))
	require.NoError(t, resultfile.Write(filepath.Join(dir, "de"), r, nil, resultfile.Options{CSV: german(t)}))
	a, err := resultfile.Read(filepath.Join(dir, "en"))
	require.NoError(t, err)
	b, err := resultfile.Read(filepath.Join(dir, "de"))
	require.NoError(t, err)
	assert.Equal(t, a.Curves, b.Curves)
	for _, name := range []string{"fractions.csv", "peaks.csv", "fit.csv"} {
		raw, err := os.ReadFile(filepath.Join(dir, "de", name))
		require.NoError(t, err)
		assert.True(t, bytes.HasPrefix(raw, []byte("\ufeff")), name)
		assert.NotRegexp(t, `;[0-9]+\.[0-9]+;`, string(raw), name)
	}
}

// The wide table has the numbers of the tidy one, one row a scan.
func TestWideTableAgreesWithTheTidyOne(t *testing.T) {
	s := resulttest.Series(9)
	read := func(raw []byte) []map[string]string {
		rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
		require.NoError(t, err)
		var out []map[string]string
		for _, row := range rows[1:] {
			m := map[string]string{}
			for i, cell := range row {
				m[rows[0][i]] = cell
			}
			out = append(out, m)
		}
		return out
	}
	var b bytes.Buffer
	require.NoError(t, resultfile.WriteSeriesWide(&b, s, resultfile.Locale{}))
	wide := read(b.Bytes())
	require.Len(t, wide, 9)
	checked := 0
	for _, row := range read(resultfile.SeriesCSV(s)) {
		i, err := strconv.Atoi(row["scan"])
		require.NoError(t, err)
		w := wide[i-1]
		for _, same := range []string{"file", "sample", "hours", "r_wp", "error", "cautions"} {
			assert.Equal(t, row[same], w[same], same)
		}
		if id := row["phase_id"]; id != "" {
			for _, c := range []string{"weight_percent", "weight_percent_lo95", "weight_percent_hi95", "detection_limit_weight_percent"} {
				assert.Equal(t, row[c], w[id+"_"+c])
				checked++
			}
		}
	}
	assert.Equal(t, 8*3*4, checked)
	assert.Empty(t, wide[1]["corundum_weight_percent"], "no answer, no number")
	b.Reset()
	require.NoError(t, resultfile.WriteSeriesWide(&b, s, german(t)))
	assert.True(t, strings.HasPrefix(b.String(), "\ufeffscan;file;sample;hours;"))
}

func FuzzLocalisedKeepsNumbers(f *testing.F) {
	f.Add("x", 1.5)
	f.Add(`"; ,`, -3e-7)
	f.Fuzz(func(t *testing.T, name string, v float64) {
		if math.IsNaN(v) || math.IsInf(v, 0) || strings.Contains(name, "\r") {
			return
		}
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		number := strconv.FormatFloat(v, 'g', 7, 64)
		_ = w.Write([]string{"n" + name, number})
		w.Flush()
		l := german(t)
		r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(resultfile.Localised(b.Bytes(), l), []byte("\ufeff"))))
		r.Comma = ';'
		row, err := r.Read()
		require.NoError(t, err)
		assert.Equal(t, "n"+name, row[0])
		assert.Equal(t, number, strings.Replace(row[1], ",", ".", 1))
	})
}

func TestGermanListIsTheSameList(t *testing.T) {
	const list = "phase,d,intensity,formula,rir,density\nmy phase,2.130,100,Cu3Zn,8.1,8.5\nmy phase,1.845,46.5,,,\n"
	a, err := listfile.Read(strings.NewReader(list), "a.csv")
	require.NoError(t, err)
	b, err := listfile.Read(bytes.NewReader(resultfile.Localised([]byte(list), german(t))), "a.csv")
	require.NoError(t, err)
	assert.Equal(t, a, b)
}

// TestAmorphousInTheTable: what a standard tells of the rest has a row, with nothing in the columns of the crystalline part.
func TestAmorphousInTheTable(t *testing.T) {
	doc := resulttest.Mixture(1).Document
	assert.NotContains(t, string(resultfile.FractionsCSV(doc)), "amorphous or unidentified")
	v := func(x float64) *float64 { return &x }
	doc.Absolute = &result.Absolute{Method: "internal standard", AmorphousWeightPercent: v(26), AmorphousLo: v(22), AmorphousHi: v(29)}
	rows, err := csv.NewReader(bytes.NewReader(resultfile.FractionsCSV(doc))).ReadAll()
	require.NoError(t, err)
	at := slices.IndexFunc(rows, func(r []string) bool { return r[1] == "amorphous or unidentified" })
	require.Positive(t, at)
	assert.Equal(t, []string{"26", "22", "29"}, rows[at][slices.Index(rows[0], "original_weight_percent"):slices.Index(rows[0], "coarse_limit_weight_percent")])
	assert.Empty(t, rows[at][slices.Index(rows[0], "weight_percent")])
}
