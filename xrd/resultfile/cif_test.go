package resultfile_test

import (
	"bytes"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"phasetally/xrd/cif"
	"phasetally/xrd/result"
	"phasetally/xrd/resultfile"
	"phasetally/xrd/resultfile/resulttest"
)

func readBack(t *testing.T, r result.Analysis) cif.Document {
	t.Helper()
	raw, err := resultfile.CIF(r)
	require.NoError(t, err)
	doc, err := cif.Read(bytes.NewReader(raw), "analysis.cif")
	require.NoError(t, err)
	return doc
}

// The dotted names and their aliases give the numbers of the document back.
func TestCIFReadsBack(t *testing.T) {
	r := resulttest.Mixture(1)
	r.Curves.Masked = make([]bool, resulttest.Points)
	r.Curves.Masked[5] = true
	doc := readBack(t, r)
	require.Len(t, doc.Blocks, 4)
	b := &doc.Blocks[0]
	assert.Equal(t, "mixture-a", b.Name)
	for _, tag := range []string{"_pd_meas.2theta_range_min", "_pd_meas_2theta_range_min"} {
		assert.Equal(t, "5", b.Text(tag))
	}
	assert.Equal(t, "no", b.Text("_pd_instr.cons_illum_flag"))
	assert.Equal(t, "0.08100", b.Text("_pd_proc_ls.prof_wR_factor"))
	for k, v := range b.Column("_pd_phase_mass.percent") {
		w, u, err := v.Number()
		require.NoError(t, err)
		assert.InDelta(t, *r.Document.Phases[k].WeightPercent, w, 0.051, "one digit of the uncertainty is printed")
		assert.InDelta(t, (*r.Document.Phases[k].WeightPercentHi-*r.Document.Phases[k].WeightPercent)/1.96, u, 0.051)
	}
	for _, c := range []struct {
		tag   string
		want  []float64
		delta float64
	}{
		{"_pd_meas.2theta_scan", r.Curves.TwoTheta, 1e-5}, {"_pd_meas_counts_total", r.Curves.Observed, 1e-9},
		{"_pd_calc_intensity_total", r.Curves.Calculated, 6e-4}, {"_pd_proc.intensity_bkg_calc", r.Curves.Background, 6e-4},
	} {
		column := b.Column(c.tag)
		require.Len(t, column, resulttest.Points, c.tag)
		for i, v := range column {
			x, _, err := v.Number()
			require.NoError(t, err)
			require.InDelta(t, c.want[i], x, c.delta, c.tag)
		}
	}
	assert.Equal(t, "0", b.Column("_pd_proc_ls.weight")[5].Text)
	assert.Len(t, b.Column("_pd_peak_2theta_centroid"), len(r.Document.Peaks))
	assert.Equal(t, "4.7590(2)", doc.Blocks[1].Text("_cell_length_a"))
	assert.Equal(t, "0.94(2)", doc.Blocks[1].Text("_pd_pref_orient_March_Dollase.r"))
}

func TestCIFOfOddResults(t *testing.T) {
	odd := resulttest.Mixture(1)
	nan := math.NaN()
	p := odd.Document.Phases
	p[0].ID, p[0].Name, p[0].Formula = "a'b\"c", "line\nbreak\n;data_x", "loop_"
	p[0].WeightPercent, p[1].WeightPercentLo, p[1].Cell, p[1].RIR = nil, nil, nil, nil
	p[2].Origin, p[2].CellU = "preparation", nil
	odd.Document.Scan.Sample, odd.Document.Scan.File = "; tricky # _text 'x", `C:\scans\a b.c.xy`
	odd.Document.Scan.NoiseModel, odd.Document.Scan.Slit = "estimated", "automatic:10"
	odd.Curves.Sigma[0], odd.Curves.Observed[1] = nan, nan
	doc := readBack(t, odd)
	b := &doc.Blocks[0]
	assert.Equal(t, "a_b_c", b.Name)
	assert.Equal(t, "; tricky # _text 'x", b.Text("_pd_spec.description"))
	assert.Equal(t, "yes", b.Text("_pd_instr.cons_illum_flag"))
	mass := b.Column("_pd_phase_mass.percent")
	assert.Equal(t, []string{"?", "34.37", "."}, []string{mass[0].Text, mass[1].Text, mass[2].Text})
	assert.Equal(t, "line\nbreak\n;data_x", b.Column("_pd_phase.name")[0].Text)
	assert.Len(t, b.Column("_pd_meas.intensity_total"), resulttest.Points)
	assert.Len(t, readBack(t, resulttest.Empty()).Blocks, 1)
}

func BenchmarkCIF(b *testing.B) {
	r := resulttest.Mixture(1)
	size := 0
	for b.Loop() {
		out, err := resultfile.CIF(r)
		if err != nil {
			b.Fatal(err)
		}
		size = len(out)
	}
	b.ReportMetric(float64(size)/1024, "KiB")
}

// What was measured on an image stands under names of our own, and reads back; without it there are none.
func TestCIFMicrograph(t *testing.T) {
	r := resulttest.Mixture(1)
	plain := readBack(t, r)
	assert.Empty(t, plain.Blocks[0].Column("_phasetally_area.percent"))
	v := func(x float64) *float64 { return &x }
	r.Document.Scan.Intercepts = []result.Length{{ID: "", Micron: 12, U: 3}, {ID: "lead", Micron: 4, U: 1}}
	r.Document.Micrograph = &result.Micrograph{Phases: []result.AreaOf{
		{ID: "lead", AreaPercent: v(9), AreaU: v(1), VolumePercent: v(7.5), VolumeU: v(0.8), CombinedWeight: v(10), CombinedWeightLo: v(8.04), CombinedWeightHi: v(11.96)},
		{ID: "bronze", VolumePercent: v(92.5), VolumeU: v(0.8)}}}
	raw, err := resultfile.CIF(r)
	require.NoError(t, err)
	doc := readBack(t, r)
	b := &doc.Blocks[0]
	number := func(tag string, i int) (value, u float64) {
		value, u, err := b.Column(tag)[i].Number()
		require.NoError(t, err, tag)
		return value, u
	}
	x, u := number("_phasetally_area.percent", 0)
	assert.Equal(t, [2]float64{9, 1}, [2]float64{x, u})
	x, u = number("_phasetally_area.volume_percent_diffraction", 1)
	assert.Equal(t, [2]float64{92.5, 0.8}, [2]float64{x, u})
	x, u = number("_phasetally_area.mass_percent_combined", 0)
	assert.Equal(t, [2]float64{10, 1}, [2]float64{x, u})
	x, u = number("_phasetally_intercept.mean_micrometres", 1)
	assert.Equal(t, [2]float64{4, 1}, [2]float64{x, u})
	assert.Equal(t, "?", b.Column("_phasetally_area.percent")[1].Text)
	assert.Contains(t, string(raw), "_phasetally_area.phase_id")
}
