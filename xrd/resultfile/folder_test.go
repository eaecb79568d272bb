package resultfile_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

func names(t *testing.T, dir string) (out []string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		out = append(out, e.Name())
	}
	return out
}

func TestWriteThenRead(t *testing.T) {
	want := resulttest.Mixture(1)
	want.Curves.Masked = make([]bool, resulttest.Points)
	want.Curves.Masked[17] = true
	dir := filepath.Join(t.TempDir(), "deep", "er", "scan-phases")
	require.NoError(t, resultfile.Write(dir, want, map[string][]byte{"report.html": []byte("<!doctype html>")}, resultfile.Options{}))
	assert.Equal(t, []string{resultfile.Marker, "analysis.cif", "analysis.json", "fit.csv", "fractions.csv", "peaks.csv", "report.html"}, names(t, dir))
	assert.Len(t, names(t, filepath.Dir(dir)), 1, "nothing is left beside the folder")

	got, err := resultfile.Read(dir)
	require.NoError(t, err)
	again := filepath.Join(t.TempDir(), "again")
	require.NoError(t, resultfile.Write(again, got, nil, resultfile.Options{}))
	for _, name := range []string{"analysis.json", "fit.csv", "fractions.csv", "peaks.csv"} { // exact to the printed digits
		a, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		b, err := os.ReadFile(filepath.Join(again, name))
		require.NoError(t, err)
		assert.True(t, bytes.Equal(a, b), name)
	}
	assert.Equal(t, want.Document.Phases, got.Document.Phases)
	assert.Equal(t, want.Curves.Masked, got.Curves.Masked)
	assert.InDeltaSlice(t, want.Curves.Observed, got.Curves.Observed, 1e-9)
}

func TestReplacingAFolder(t *testing.T) {
	first, second := resulttest.Mixture(1), resulttest.Mixture(2)
	ours := func(t *testing.T) string {
		dir := filepath.Join(t.TempDir(), "out")
		require.NoError(t, resultfile.Write(dir, first, nil, resultfile.Options{}))
		return dir
	}
	for _, c := range []struct {
		name  string
		make  func(t *testing.T) string
		force bool
		want  error
		fix   string
	}{
		{"ours without force", ours, false, resultfile.ErrExists, "--force"},
		{"ours with force", ours, true, nil, ""},
		{"empty folder of someone else", func(t *testing.T) string { return t.TempDir() }, true, resultfile.ErrNotOurs, "--out"},
		{"a file", func(t *testing.T) string {
			name := filepath.Join(t.TempDir(), "out")
			require.NoError(t, os.WriteFile(name, nil, 0o600))
			return name
		}, true, resultfile.ErrNotFolder, "--out"},
		{"ours with the user's notes in it", func(t *testing.T) string {
			dir := ours(t)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("mine"), 0o600))
			return dir
		}, true, resultfile.ErrForeign, "move it"},
		{"a marker that is not ours", func(t *testing.T) string {
			dir := t.TempDir()
			require.NoError(t, os.WriteFile(filepath.Join(dir, resultfile.Marker), []byte("{}"), 0o600))
			return dir
		}, true, resultfile.ErrNotOurs, "--out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := c.make(t)
			require.Equal(t, c.want == nil, resultfile.Replaceable(dir, c.force) == nil)
			err := resultfile.Write(dir, second, nil, resultfile.Options{Force: c.force})
			if c.want == nil {
				require.NoError(t, err)
				got, err := resultfile.Read(dir)
				require.NoError(t, err)
				assert.Equal(t, second.Curves.Observed, got.Curves.Observed)
				assert.Len(t, names(t, filepath.Dir(dir)), 1)
				return
			}
			require.ErrorIs(t, err, c.want)
			var at *resultfile.FolderError
			require.ErrorAs(t, err, &at)
			assert.Contains(t, at.Fix, c.fix)
		})
	}
}

func TestExtraNamesStayInTheFolder(t *testing.T) {
	for _, name := range []string{"../x", "/etc/x", "a/b", resultfile.Marker, "", ".", "..", `a\b`} {
		dir := filepath.Join(t.TempDir(), "out")
		err := resultfile.Write(dir, resulttest.Empty(), map[string][]byte{name: nil}, resultfile.Options{})
		require.ErrorIs(t, err, resultfile.ErrBadName, name)
		assert.NoDirExists(t, dir)
	}
}

// The keys are those of the published schema; a missing or a renamed one breaks every reader.
func TestSchemaKeys(t *testing.T) {
	raw, err := resultfile.JSON(resulttest.Mixture(1).Document)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(raw, &doc))
	keys := func(v any) (out []string) {
		for k := range v.(map[string]any) {
			out = append(out, k)
		}
		return out
	}
	first := func(k string) any { return doc[k].([]any)[0] }
	phase := first("phases").(map[string]any)
	for _, c := range []struct {
		have any
		want string
	}{
		{doc, "schema scan explanation procedure phases fraction_covariance phase_order absolute same_specimen factors absorption hidden_limit_weight_percent micrograph not_detected unexplained_peaks cautions fit peaks references choices provenance"},
		{doc["scan"], "file sha256 sample points two_theta_min two_theta_max step radiation wavelength radiation_assumed slit geometry radius_mm specimen_length_mm section mount intercepts intercept_cv2 counting_time_s simulated noise_model"},
		{phase, "id name formula source origin evidence reasons weight_percent weight_percent_lo95 weight_percent_hi95 volume_percent volume_percent_lo95 volume_percent_hi95 original_weight_percent original_weight_percent_lo95 original_weight_percent_hi95 if_own_weight_percent if_own_weight_percent_lo95 if_own_weight_percent_hi95 fine_limit_weight_percent fine_limit_weight_percent_lo95 fine_limit_weight_percent_hi95 depth95_um hazards coarse_limit_weight_percent coarse_limit_weight_percent_lo95 coarse_limit_weight_percent_hi95 detection_limit_weight_percent rir rir_origin rir_basis rir_radiation density density_origin scale scale_u cell cell_u size_nm strain texture sections lines line_rir alternatives same_as budget"},
		{phase["lines"].([]any)[0], "h k l d two_theta expected observed observed_u own verdict"},
		{phase["reasons"].([]any)[0], "code text value"},
		{phase["cell"], "a b c alpha beta gamma"},
		{phase["budget"].([]any)[0], "source u_weight_percent"},
		{first("not_detected"), "id name detection_limit_weight_percent asked"},
		{first("unexplained_peaks"), "two_theta d significance could_be"},
		{first("cautions"), "code severity text remedy evidence"},
		{doc["fit"], "r_wp r_wp_background_subtracted r_exp reduced_chi_square durbin_watson zero_shift displacement_mm iterations background_intervals status undetermined correlated"},
		{first("peaks"), "two_theta two_theta_u d height height_u area area_u fwhm fwhm_u integral_breadth integral_breadth_u area_fwhm_correlation overlap_correlation significance kind phase_ids hkl"},
		{doc["provenance"], "version command settings given reference_data started elapsed_s"},
	} {
		assert.ElementsMatch(t, strings.Fields(c.want), keys(c.have))
	}
	assert.Nil(t, doc["absolute"])
	assert.Equal(t, result.Schema, doc["schema"])
}

func TestUnknownIsNullNeverNaN(t *testing.T) {
	r := resulttest.Mixture(1)
	nan, inf := math.NaN(), math.Inf(1)
	r.Document.Fit.DurbinWatson = inf
	r.Document.Phases[0].Scale = nan
	r.Document.Phases[0].WeightPercent = &nan
	r.Document.Cautions[0].Evidence["ratio"] = nan
	r.Document.Provenance.Settings = map[string]any{"x": inf}
	r.Document.Scan.Sample = "bad \xff utf-8"
	r.Document.Phases[1].Lines, r.Document.FractionCovariance = nil, nil
	r.Curves.Sigma[3] = nan
	dir := filepath.Join(t.TempDir(), "out")
	require.NoError(t, resultfile.Write(dir, r, nil, resultfile.Options{}))
	for _, name := range names(t, dir) {
		raw, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		assert.NotRegexp(t, `(?i)\bnan\b|[+-]inf\b`, string(raw), name)
	}
	raw, err := resultfile.JSON(r.Document)
	require.NoError(t, err)
	require.True(t, json.Valid(raw))
	for _, want := range []string{`"durbin_watson": null`, `"scale": null`, `"weight_percent": null`, `"ratio": null`, `"lines": []`, `"fraction_covariance": []`} {
		assert.Contains(t, string(raw), want)
	}
	got, err := resultfile.Read(dir)
	require.NoError(t, err)
	assert.True(t, math.IsNaN(got.Document.Fit.DurbinWatson), "null comes back as unknown, not as 0")
	assert.Nil(t, got.Document.Phases[0].WeightPercent)
	assert.True(t, math.IsNaN(got.Curves.Sigma[3]))
	again, err := resultfile.JSON(got.Document)
	require.NoError(t, err)
	assert.Equal(t, string(raw), string(again))
}

func TestTablesAreSafeInASpreadsheet(t *testing.T) {
	r := resulttest.Mixture(1)
	p := &r.Document.Phases[0]
	p.ID, p.Name, p.Formula = "=cmd|calc", "@SUM(A1)", "-a,\"b\"\n+c"
	p.VolumePercent = nil
	fit, err := resultfile.FitCSV(r.Document, r.Curves)
	require.NoError(t, err)
	for name, raw := range map[string][]byte{"fractions": resultfile.FractionsCSV(r.Document), "peaks": resultfile.PeaksCSV(r.Document), "fit": fit} {
		rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
		require.NoError(t, err, name)
		for i, row := range rows {
			require.Len(t, row, len(rows[0]))
			for _, cell := range row {
				if _, err := strconv.ParseFloat(cell, 64); err == nil || cell == "" {
					require.NotEqual(t, 0, i, "header cells are words")
					continue
				}
				require.NotContains(t, "=+-@\t\r", cell[:1], "%s: %q", name, cell)
			}
		}
	}
	rows, _ := csv.NewReader(bytes.NewReader(resultfile.FractionsCSV(r.Document))).ReadAll()
	require.Len(t, rows, 1+3+2)
	assert.Equal(t, "31.42", rows[1][5])
	assert.Empty(t, rows[1][8], "unknown is empty, not 0")
	assert.Equal(t, []string{"quartz", "not detected", "", "0.32"}, []string{rows[4][0], rows[4][4], rows[4][5], rows[4][15]})
}

func TestReadRefusesDamage(t *testing.T) {
	for _, c := range []struct {
		name, file string
		damage     func([]byte) []byte
		line       int
	}{
		{"cut json", "analysis.json", func(b []byte) []byte { return b[:len(b)/2] }, 0},
		{"other schema", "analysis.json", func(b []byte) []byte { return bytes.Replace(b, []byte("analysis/1"), []byte("analysis/9"), 1) }, 0},
		{"cut table", "fit.csv", func(b []byte) []byte { return b[:len(b)/2] }, -1},
		{"word in table", "fit.csv", func(b []byte) []byte { return bytes.Replace(b, []byte("\n5,"), []byte("\nfive,"), 1) }, 2},
		{"phase column gone", "fit.csv", func(b []byte) []byte { return bytes.Replace(b, []byte(",zincite_intensity"), nil, 1) }, 1},
		{"empty table", "fit.csv", func([]byte) []byte { return nil }, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "out")
			require.NoError(t, resultfile.Write(dir, resulttest.Mixture(1), nil, resultfile.Options{}))
			name := filepath.Join(dir, c.file)
			raw, err := os.ReadFile(name)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(name, c.damage(raw), 0o600))
			_, err = resultfile.Read(dir)
			var at *xrd.SyntaxError
			require.ErrorAs(t, err, &at)
			assert.Equal(t, name, at.File)
			if c.line >= 0 {
				assert.Equal(t, c.line, at.Line)
			}
		})
	}
	series := t.TempDir()
	_, err := resultfile.Read(series)
	var at *resultfile.FolderError
	require.ErrorAs(t, err, &at)
	assert.NotContains(t, at.Fix, "series")
	require.NoError(t, os.WriteFile(filepath.Join(series, "series.json"), nil, 0o600))
	_, err = resultfile.Read(series)
	require.ErrorAs(t, err, &at)
	assert.Contains(t, at.Fix, "--kind trend", "the folder of a series has figures of its own")
}

func TestWrongCurvesAreRefused(t *testing.T) {
	for _, spoil := range []func(*result.Curves){
		func(c *result.Curves) { c.Phases = c.Phases[:2] },
		func(c *result.Curves) { c.Sigma = c.Sigma[:9] },
		func(c *result.Curves) { c.Masked = make([]bool, 3) },
	} {
		r := resulttest.Mixture(1)
		spoil(&r.Curves)
		_, err := resultfile.FitCSV(r.Document, r.Curves)
		require.Error(t, err)
	}
}

func ExampleFractionsCSV() {
	rows, _ := csv.NewReader(bytes.NewReader(resultfile.FractionsCSV(resulttest.Mixture(1).Document))).ReadAll()
	for _, row := range rows {
		fmt.Println(row[0], row[4], row[5], row[15])
	}
	// Output:
	// phase_id evidence weight_percent detection_limit_weight_percent
	// corundum established 31.42 0.42
	// fluorite established 34.37 0.11
	// zincite established 34.21 0.08
	// quartz not detected  0.32
	// magnetite not detected  0.9
}

func BenchmarkWrite(b *testing.B) {
	r, dir := resulttest.Mixture(1), filepath.Join(b.TempDir(), "out")
	for b.Loop() {
		if err := resultfile.Write(dir, r, nil, resultfile.Options{Force: true}); err != nil {
			b.Fatal(err)
		}
	}
}
