package resultfile_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

func csvRows(t *testing.T, raw []byte) (header []string, rows []map[string]string) {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	require.NoError(t, err)
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, c := range r {
			m[all[0][i]] = c
		}
		rows = append(rows, m)
	}
	return all[0], rows
}

func TestSeriesCSVIsTidy(t *testing.T) {
	s := resulttest.Series(6)
	header, rows := csvRows(t, resultfile.SeriesCSV(s))
	assert.Equal(t, []string{"scan", "file", "sample", "hours", "section", "phase_id"}, header[:6])
	assert.Len(t, rows, 5*3+1, "a row a scan and phase, one for the scan that failed")
	failed := rows[3]
	assert.Equal(t, "2", failed["scan"])
	assert.Contains(t, failed["error"], "expected angle and intensity")
	assert.Empty(t, failed["phase_id"]+failed["weight_percent"]+failed["detected"])
	last := rows[len(rows)-2]
	assert.Equal(t, "fluorite", last["phase_id"])
	assert.Equal(t, "false", last["detected"])
	assert.Empty(t, last["weight_percent"], "a phase that is not there has no fraction, not 0")
	assert.Equal(t, "0.5", last["detection_limit_weight_percent"])
	assert.Equal(t, "250", last["hours"])
	seen := map[string]bool{}
	for _, h := range header {
		assert.False(t, seen[h], h)
		seen[h] = true
	}
}

// A condition that a spreadsheet would run as a formula is kept as text.
func TestSeriesCSVGuardsFormulas(t *testing.T) {
	s := resulttest.Series(1)
	s.Conditions[1] = "=cmd()"
	s.Scans[0].Conditions[1] = "@SUM(A1)"
	header, rows := csvRows(t, resultfile.SeriesCSV(s))
	assert.Equal(t, "'=cmd()", header[4])
	assert.Equal(t, "'@SUM(A1)", rows[0]["'=cmd()"])
}

// The Parquet file is read back by the library's generic reader: the same columns, rows and values as the CSV.
func TestSeriesParquetHoldsTheSameAsCSV(t *testing.T) {
	s := resulttest.Series(6)
	raw, err := resultfile.SeriesParquet(s)
	require.NoError(t, err)
	f, err := parquet.OpenFile(bytes.NewReader(raw), int64(len(raw)))
	require.NoError(t, err)
	header, rows := csvRows(t, resultfile.SeriesCSV(s))
	require.Len(t, f.Schema().Columns(), len(header))
	require.EqualValues(t, len(rows), f.NumRows())
	r := parquet.NewReader(f)
	for i, want := range rows {
		got := map[string]any{}
		require.NoError(t, r.Read(&got), i)
		for name, text := range want {
			switch v := got[name].(type) {
			case nil:
				assert.Empty(t, text, "%d %s", i, name)
			case float64:
				w, err := strconv.ParseFloat(text, 64)
				require.NoError(t, err, "%s: %q", name, text)
				assert.InEpsilon(t, w+1e-300, v+1e-300, 1e-6, "%d %s", i, name)
			case int64:
				assert.Equal(t, text, strconv.FormatInt(v, 10), name)
			case bool:
				assert.Equal(t, text, strconv.FormatBool(v), name)
			case string:
				assert.Equal(t, text, v, name)
			case []byte:
				assert.Equal(t, text, string(v), name)
			default:
				t.Errorf("%s: %T", name, v)
			}
		}
	}
	leaf, ok := f.Schema().Lookup("hours")
	require.True(t, ok)
	assert.Equal(t, parquet.Double, leaf.Node.Type().Kind())
	leaf, _ = f.Schema().Lookup("section")
	assert.Equal(t, parquet.ByteArray, leaf.Node.Type().Kind())
}

func TestSeriesFilesAreTheSameForTheSameSeries(t *testing.T) {
	a, err := resultfile.SeriesParquet(resulttest.Series(5))
	require.NoError(t, err)
	b, err := resultfile.SeriesParquet(resulttest.Series(5))
	require.NoError(t, err)
	assert.Equal(t, a, b)
	a, err = resultfile.SeriesJSON(resulttest.Series(5))
	require.NoError(t, err)
	b, err = resultfile.SeriesJSON(resulttest.Series(5))
	require.NoError(t, err)
	assert.Equal(t, a, b)
}

func TestSeriesJSONHasNullForUnknown(t *testing.T) {
	s := resulttest.Series(4)
	s.Scans[0].RWP = ptrTo(math.NaN())
	raw, err := resultfile.SeriesJSON(s)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(raw, &doc))
	assert.Equal(t, "phasetally.series/1", doc["schema"])
	scans := doc["scans"].([]any)
	first, failed := scans[0].(map[string]any), scans[1].(map[string]any)
	assert.Nil(t, first["r_wp"])
	assert.Nil(t, failed["wavelength"])
	assert.Equal(t, []any{}, failed["phases"])
}

func ptrTo(v float64) *float64 { return &v }

func TestSeriesFolderGoesOn(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "series")
	files := []string{"a/one.xy", "b/one.xy", "two.xy"}
	f, err := resultfile.OpenSeries(dir, files, false)
	require.NoError(t, err)
	e := resulttest.Series(1).Scans[0]
	require.NoError(t, f.Keep(1, resulttest.Mixture(1), &e, map[string][]byte{"report.html": []byte("<p>")}))
	assert.Equal(t, "scans/one-2", e.Folder)
	assert.True(t, e.HasReport)

	require.NoError(t, f.Close())
	again, err := resultfile.OpenSeries(dir, files, false)
	require.NoError(t, err)
	got, ok := again.Earlier(1, e.Fingerprint)
	require.True(t, ok)
	assert.Equal(t, e, got)
	_, ok = again.Earlier(1, "another")
	assert.False(t, ok, "settings changed")
	_, ok = again.Earlier(0, e.Fingerprint)
	assert.False(t, ok, "another scan")
	r, err := again.Result(1)
	require.NoError(t, err)
	assert.Equal(t, resulttest.Mixture(1).Document.Scan.SHA256, r.Document.Scan.SHA256)

	require.NoError(t, again.Close())
	forced, err := resultfile.OpenSeries(dir, files, true)
	require.NoError(t, err)
	_, ok = forced.Earlier(1, e.Fingerprint)
	assert.False(t, ok, "--force redoes everything")

	// an entry that was cut off, or emptied, is as good as none
	name := filepath.Join(dir, "scans", "one-2", "series-entry.json")
	require.NoError(t, os.WriteFile(name, []byte(`{"fingerprint":`), 0o600))
	_, ok = again.Earlier(1, e.Fingerprint)
	assert.False(t, ok)
	require.NoError(t, os.WriteFile(name, nil, 0o600))
	_, ok = again.Earlier(1, "")
	assert.False(t, ok)
	require.NoError(t, again.Keep(1, resulttest.Mixture(2), &e, nil), "its own folder is replaced")
	assert.False(t, e.HasReport)
}

func TestSeriesFinish(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	f, err := resultfile.OpenSeries(dir, nil, false)
	require.NoError(t, err)
	assert.NoDirExists(t, dir, "nothing to keep yet")
	require.NoError(t, f.Finish(resulttest.Series(3), nil))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("mine"), 0o600))
	for range 2 {
		require.NoError(t, f.Finish(resulttest.Series(3), map[string]resultfile.FileWriter{"trend.svg": resultfile.Bytes([]byte("<svg/>"))}))
	}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.Equal(t, []string{".phasetally-series", "notes.txt", "scans", "series-wide.csv", "series.csv", "series.json", "series.parquet", "trend.svg"}, names, "no temporary file stays, a stranger's file does")
	back, err := resultfile.ReadSeries(dir)
	require.NoError(t, err)
	assert.Equal(t, resulttest.Series(3).Scans, back.Scans)
	require.ErrorIs(t, f.Finish(resulttest.Series(1), map[string]resultfile.FileWriter{"../trend.svg": nil}), resultfile.ErrBadName)
}

func TestOpenSeriesRefusesWhatIsNotASeries(t *testing.T) {
	parent := t.TempDir()
	file := filepath.Join(parent, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err := resultfile.OpenSeries(file, nil, true)
	require.ErrorIs(t, err, resultfile.ErrNotFolder)
	_, err = resultfile.OpenSeries(parent, nil, true)
	require.ErrorIs(t, err, resultfile.ErrNotSeries)
	var at *resultfile.FolderError
	require.ErrorAs(t, err, &at)
	assert.Contains(t, at.Fix, "--out")
	scan := filepath.Join(parent, "scan")
	require.NoError(t, resultfile.Write(scan, resulttest.Mixture(1), nil, resultfile.Options{}))
	_, err = resultfile.OpenSeries(scan, nil, true)
	require.ErrorIs(t, err, resultfile.ErrNotSeries)
	_, err = resultfile.ReadSeries(scan)
	require.ErrorAs(t, err, &at)
	require.NoError(t, os.WriteFile(filepath.Join(scan, "series.json"), []byte(`{"schema":"other/1"}`), 0o600))
	_, err = resultfile.ReadSeries(scan)
	var syntax *xrd.SyntaxError
	require.ErrorAs(t, err, &syntax)
}

func TestSeriesPhasesAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "series")
	f, err := resultfile.OpenSeries(dir, nil, false)
	require.NoError(t, err)
	_, ok := f.EarlierPhases("mark")
	assert.False(t, ok, "nothing yet")
	_, err = f.KeepPhases("mark", []string{"quartz", "calcite"})
	require.NoError(t, err)
	_, err = f.KeepPhases("mark", []string{"quartz", "albite"})
	require.NoError(t, err, "replaced")
	ids, ok := f.EarlierPhases("mark")
	require.True(t, ok)
	assert.Equal(t, []string{"quartz", "albite"}, ids)
	for _, mark := range []string{"", "another"} {
		_, ok = f.EarlierPhases(mark)
		assert.False(t, ok, mark)
	}
	require.NoError(t, f.Close())
	forced, err := resultfile.OpenSeries(dir, nil, true)
	require.NoError(t, err)
	_, ok = forced.EarlierPhases("mark")
	assert.False(t, ok, "--force searches again")
	require.NoError(t, forced.Close())
	again, err := resultfile.OpenSeries(dir, nil, false)
	require.NoError(t, err)
	for _, text := range []string{"", "{", `{"schema":"other/1","fingerprint":"mark","phases":["a"]}`, `{"schema":"phasetally.series-phases/1","fingerprint":"mark","phases":[]}`} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "series-phases.json"), []byte(text), 0o600))
		_, ok = again.EarlierPhases("mark")
		assert.False(t, ok, text)
	}
}

// What a killed run has left under an unfinished name goes; everything else, a stranger's hidden file too, stays.
func TestSeriesFolderIsSwept(t *testing.T) {
	parent := t.TempDir()
	dir := filepath.Join(parent, "series")
	left := filepath.Join(parent, ".series-partial-series")
	require.NoError(t, os.MkdirAll(filepath.Join(left, "scans"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(left, ".phasetally-series"), []byte("phaseta"), 0o600), "cut off")
	f, err := resultfile.OpenSeries(dir, []string{"a.xy"}, false)
	require.NoError(t, err)
	e := resulttest.Series(1).Scans[0]
	require.NoError(t, f.Keep(0, resulttest.Mixture(1), &e, nil))
	assert.NoDirExists(t, left)
	require.NoError(t, f.Close())

	for _, name := range []string{"scans/.a-partial-123", ".series-partial-9", "scans/.mine"} {
		require.NoError(t, os.Mkdir(filepath.Join(dir, name), 0o700))
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".note"), nil, 0o600))
	f, err = resultfile.OpenSeries(dir, []string{"a.xy"}, false)
	require.NoError(t, err)
	assert.NoDirExists(t, filepath.Join(dir, "scans/.a-partial-123"))
	assert.NoDirExists(t, filepath.Join(dir, ".series-partial-9"))
	assert.DirExists(t, filepath.Join(dir, "scans/.mine"))
	assert.DirExists(t, filepath.Join(dir, "scans/a"))
	assert.FileExists(t, filepath.Join(dir, ".note"))

	_, err = resultfile.OpenSeries(dir, nil, false)
	require.ErrorIs(t, err, resultfile.ErrBusy, "two runs")
	require.NoError(t, f.Close())
	f, err = resultfile.OpenSeries(dir, nil, false)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}
