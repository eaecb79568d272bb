package scanfile_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd"
	"phasetally/xrd/scanfile"
)

// cifScan is the scan of the text variants as CIF, with a head of its own.
func cifScan(head, angleTag, intensityTag, format string) string {
	var b strings.Builder
	b.WriteString("# powder CIF\ndata_scan\n" + head + "\nloop_\n")
	if angleTag != "" {
		b.WriteString(angleTag + "\n")
	}
	b.WriteString(intensityTag + "\n")
	for i, a := range wantAngles {
		if angleTag != "" {
			fmt.Fprintf(&b, "%.2f ", a)
		}
		fmt.Fprintf(&b, format+"\n", wantCounts[i])
	}
	return b.String()
}

func TestReadCIF(t *testing.T) {
	const ends = "_pd_meas_2theta_range_min 10.00\n_pd_meas_2theta_range_max 10.48\n_pd_meas_2theta_range_inc 0.02\n"
	for name, text := range map[string]string{
		"underscores":       cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"),
		"dots":              cifScan("", "_pd_meas.2theta_scan", "_pd_meas.counts_total", "%.0f"),
		"capitals":          cifScan("", "_PD_meas_2Theta_scan", "_pd_meas_Counts_Total", "%.0f"),
		"intensity":         cifScan("", "_pd_meas_2theta_scan", "_pd_meas_intensity_total", "%.0f"),
		"processed":         cifScan("", "_pd_proc_2theta_corrected", "_pd_proc_intensity_total", "%.0f"),
		"range":             cifScan(ends, "", "_pd_meas_counts_total", "%.0f"),
		"dotted range":      cifScan(strings.ReplaceAll(ends, "_pd_meas_", "_pd_meas."), "", "_pd_meas.counts_total", "%.0f"),
		"processed range":   cifScan(strings.ReplaceAll(ends, "meas", "proc"), "", "_pd_proc.intensity_total", "%.0f"),
		"an earlier block":  "data_global\n_audit_creation_method ?\n" + cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"),
		"BOM, CRLF":         "\ufeff" + strings.ReplaceAll(cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), "\n", "\r\n"),
		"UTF-16":            wide(cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), true, true),
		"a point not given": cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f") + "10.50 ?\n10.52 .\n",
		"CIF 2.0":           "#\\#CIF_2.0\n" + cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"),
	} {
		scan, err := scanfile.Read(strings.NewReader(text), "scan.cif")
		require.NoError(t, err, name)
		assert.InDeltaSlice(t, wantAngles, scan.TwoTheta, 1e-9, name)
		assert.Equal(t, wantCounts, scan.Intensity, name)
		assert.Nil(t, scan.Sigma, name)
		requireRoundTrip(t, scan)
	}
}

func TestReadCIFUncertainties(t *testing.T) {
	brackets, err := scanfile.Read(strings.NewReader(cifScan("", "_pd_meas_2theta_scan", "_pd_proc_intensity_net", "%.0f(12)")), "scan.cif")
	require.NoError(t, err)
	assert.Equal(t, 12.0, brackets.Sigma[4])
	column, err := scanfile.Read(strings.NewReader(cifScan("", "_pd_meas_2theta_scan", "_pd_proc_intensity_net\n_pd_proc_intensity_net_su", "%.0f 3.5")), "scan.cif")
	require.NoError(t, err)
	assert.Equal(t, 3.5, column.Sigma[4])
}

func TestReadCIFMeasurement(t *testing.T) {
	text := cifScan(`_diffrn_radiation_probe x-ray
_diffrn_radiation_type 'Cu K\a'
_diffrn_radiation_wavelength 1.5418
_pd_spec_description
;bushing,
invented
;
_pd_spec_mounting 'epoxy mount'
_pd_instr_dist_src/spec 217.5
_pd_meas_step_count_time 2
_pd_instr.2theta_monochr_post 26.6
_pd_instr.cons_illum_flag yes
_pd_instr_cons_illum_len 10
`, "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f")
	scan, err := scanfile.Read(strings.NewReader(text), "scan.cif")
	require.NoError(t, err)
	a := scan.About
	cu, _ := xrd.ParseRadiation("Cu")
	assert.Equal(t, cu, *a.Radiation)
	assert.Equal(t, "bushing, invented", a.Sample)
	assert.Equal(t, "epoxy mount", a.Mount)
	assert.Equal(t, "26.6", a.Monochromator)
	assert.Equal(t, xrd.Slit{Mode: xrd.SlitAutomatic, Value: 10}, *a.Slit)
	assert.Equal(t, []float64{217.5, 2}, []float64{a.Radius, a.CountingTime})
	requireRoundTrip(t, scan)
}

func TestReadCIFRadiation(t *testing.T) {
	for head, want := range map[string]string{
		"":                                               "",
		"_diffrn_radiation_type 'Cu K\\a1'":              "",
		"_diffrn_radiation_type CoK\\a":                  "Co",
		"_diffrn_radiation_wavelength 1.54056":           "1.54056",
		"_diffrn_radiation.wavelength 0.4959":            "0.4959",
		"_diffrn_radiation_wavelength ?":                 "",
		"_diffrn_radiation_type 'Mo K\\a1,2'":            "Mo",
		"_diffrn_radiation_wavelength.wavelength 1.7890": "1.789",
		"_diffrn_radiation_type 'Cu K\\a1'\n_diffrn_radiation_wavelength 1.54056":                      "1.54056",
		"loop_\n_diffrn_radiation_wavelength\n_diffrn_radiation_wavelength_wt\n1.5444 0.5\n1.5406 1\n": "1.5406,1.5444",
	} {
		scan, err := scanfile.Read(strings.NewReader(cifScan(head+"\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f")), "scan.cif")
		require.NoError(t, err, head)
		if want == "" {
			assert.Nil(t, scan.About.Radiation, head)
			continue
		}
		require.NotNil(t, scan.About.Radiation, head)
		assert.Equal(t, want, scan.About.Radiation.Name, head)
	}
}

func TestReadCIFRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		line int
		err  error
	}{
		"no scan":         {"data_x\n_pd_meas_2theta_range_min 3\n", 0, scanfile.ErrNoData},
		"a structure":     {"data_x\n_cell_length_a 3\n", 0, scanfile.ErrStructure},
		"no angles":       {cifScan("", "", "_pd_meas_counts_total", "%.0f"), 0, scanfile.ErrFewColumns},
		"text":            {cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f") + "10.5 abc\n", 32, scanfile.ErrNumber},
		"angle not given": {cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f") + "? 5\n", 32, scanfile.ErrNumber},
		"repeated angle":  {cifScan("", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f") + "10.48 5\n", 32, xrd.ErrNotAscending},
		"range too short": {cifScan("_pd_meas_2theta_range_min 10\n_pd_meas_2theta_range_max 10.4\n_pd_meas_2theta_range_inc .02\n", "", "_pd_meas_counts_total", "%.0f"), 5, scanfile.ErrFewColumns},
		"range, no step":  {cifScan("_pd_meas_2theta_range_min 10\n_pd_meas_2theta_range_max 10.48\n", "", "_pd_meas_counts_total", "%.0f"), 0, scanfile.ErrNoData},
		"step 0":          {cifScan("_pd_meas_2theta_range_min 10\n_pd_meas_2theta_range_max 10.48\n_pd_meas_2theta_range_inc 0\n", "", "_pd_meas_counts_total", "%.0f"), 5, scanfile.ErrFewColumns},
		"neutrons":        {cifScan("_diffrn_radiation_probe neutron\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), 3, scanfile.ErrKey},
		"wavelength":      {cifScan("_diffrn_radiation_wavelength -1\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), 3, xrd.ErrUnknownRadiation},
		"negative radius": {cifScan("_pd_instr_dist_src/spec -1\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), 3, scanfile.ErrKey},
		"slit":            {cifScan("_pd_instr_divg_eq_src/spec 99\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), 3, xrd.ErrUnknownSlit},
		"monochromator":   {cifScan("_pd_instr_2theta_monochr_post 200\n", "_pd_meas_2theta_scan", "_pd_meas_counts_total", "%.0f"), 3, xrd.ErrUnknownMonochromator},
	} {
		_, err := scanfile.Read(strings.NewReader(c.text), "bad.cif")
		var at *xrd.SyntaxError
		require.ErrorAs(t, err, &at, name)
		assert.ErrorIs(t, err, c.err, name)
		if c.line > 0 {
			assert.Equal(t, c.line, at.Line, "%s: %v", name, err)
		}
	}
	_, err := scanfile.Read(strings.NewReader("data_x\nloop_\n_a\n'open\n"), "bad.cif")
	var at *xrd.SyntaxError
	require.ErrorAs(t, err, &at, "the syntax itself is wrong")
}
