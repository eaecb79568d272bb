package resultfile

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"strings"

	"phasetally/xrd/cif"
	"phasetally/xrd/result"
)

// CIF returns analysis.cif: one block for the scan, its fit, the fractions and the peaks, and one block a phase with its
// cell. Names are those of the IUCr powder dictionary with dots; where older software knows a name with underscores,
// that alias stands beside it (IUCr cif_pow 1.0 and 2.5, from memory). Unknown values are a question mark.
func CIF(r result.Analysis) ([]byte, error) {
	if err := checkCurves(r.Document, r.Curves); err != nil {
		return nil, err
	}
	doc := r.Document
	main := &cifBlock{Block: cif.NewBlock(cmp.Or(blockName(doc.Scan.File), "scan"))}
	main.about(doc)
	main.fit(doc.Fit)
	main.phases(doc)
	main.micrograph(doc)
	main.peaks(doc.Peaks)
	main.profile(r)
	blocks := []cif.Block{*main.Block}
	err := main.err
	for i, p := range doc.Phases {
		b := &cifBlock{Block: cif.NewBlock(fmt.Sprintf("%s_phase_%d", main.Name, i+1))}
		b.phase(p)
		blocks, err = append(blocks, *b.Block), cmp.Or(err, b.err)
	}
	var out bytes.Buffer
	if err == nil {
		err = cif.Write(&out, cif.Document{Blocks: blocks})
	}
	if err != nil {
		return nil, fmt.Errorf("analysis.cif: %w", err)
	}
	return out.Bytes(), nil
}

// cifBlock adds items and remembers the first error, which only a slip in a tag can cause.
type cifBlock struct {
	*cif.Block
	err error
}

// put adds one value under a dotted name and its aliases.
func (b *cifBlock) put(v cif.Value, tags ...string) {
	for _, tag := range tags {
		b.err = cmp.Or(b.err, b.Set(tag, v))
	}
}

// words adds a text unless it is empty.
func (b *cifBlock) words(s string, tags ...string) {
	if s != "" {
		b.put(cif.Text(s), tags...)
	}
}

func (b *cifBlock) number(v *float64, tags ...string) {
	if v != nil {
		b.put(cif.Number(*v), tags...)
	}
}

// column is a column of a loop with the names it goes under.
type column struct {
	tags []string
	at   func(i int) cif.Value
}

func (b *cifBlock) loop(rows int, columns ...column) {
	if rows == 0 {
		return
	}
	var tags []string
	for _, c := range columns {
		tags = append(tags, c.tags...)
	}
	table := make([][]cif.Value, rows)
	for i := range table {
		row := make([]cif.Value, 0, len(tags))
		for _, c := range columns {
			v := c.at(i)
			for range c.tags {
				row = append(row, v)
			}
		}
		table[i] = row
	}
	b.err = cmp.Or(b.err, b.AddLoop(tags, table))
}

// blockName keeps letters and digits of a file's stem.
func blockName(file string) string {
	name := file[strings.LastIndexAny(file, `/\`)+1:]
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		name = name[:i]
	}
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, name)
}

// about says what was scanned and how.
func (b *cifBlock) about(doc result.Document) {
	s := doc.Scan
	b.words("phasetally "+doc.Provenance.Version, "_audit.creation_method", "_audit_creation_method")
	if t := doc.Provenance.Started; t != nil {
		b.words(t.Format("2006-01-02"), "_audit.creation_date", "_audit_creation_date")
	}
	b.words(s.Sample, "_pd_spec.description", "_pd_spec_description")
	b.words(s.Section, "_pd_spec.orientation", "_pd_spec_orientation")
	b.words(s.Mount, "_pd_spec.mounting", "_pd_spec_mounting")
	b.words("reflection", "_pd_spec.mount_mode", "_pd_spec_mount_mode")
	b.words(s.Radiation, "_diffrn_radiation.type", "_diffrn_radiation_type")
	b.put(cif.Rounded(s.Wavelength, 6), "_diffrn_radiation_wavelength.value", "_diffrn_radiation_wavelength")
	b.number(s.RadiusMM, "_pd_instr.dist_src_spec", "_pd_instr_dist_src/spec")
	if opening, fixed := strings.CutPrefix(s.Slit, "fixed:"); fixed {
		b.words(opening, "_pd_instr.slit_eq_src_spec", "_pd_instr_slit_eq_src/spec")
	}
	if s.Slit != "" {
		illuminated := "no"
		if strings.HasPrefix(s.Slit, "automatic") {
			illuminated = "yes"
		}
		b.words(illuminated, "_pd_instr.cons_illum_flag", "_pd_instr_cons_illum_flag")
	}
	b.put(cif.Number(s.TwoThetaMin), "_pd_meas.2theta_range_min", "_pd_meas_2theta_range_min")
	b.put(cif.Number(s.TwoThetaMax), "_pd_meas.2theta_range_max", "_pd_meas_2theta_range_max")
	b.put(cif.Number(s.Step), "_pd_meas.2theta_range_inc", "_pd_meas_2theta_range_inc")
	b.put(cif.Number(float64(s.Points)), "_pd_meas.number_of_points", "_pd_meas_number_of_points")
	b.words("step", "_pd_meas.scan_method", "_pd_meas_scan_method")
}

func (b *cifBlock) fit(f *result.Fit) {
	if f == nil {
		return
	}
	b.put(cif.Rounded(f.RWP, 5), "_pd_proc_ls.prof_wR_factor", "_pd_proc_ls_prof_wR_factor")
	b.put(cif.Rounded(f.RExp, 5), "_pd_proc_ls.prof_wR_expected", "_pd_proc_ls_prof_wR_expected")
	b.put(cif.Rounded(math.Sqrt(f.ReducedChiSquare), 3), "_refine_ls.goodness_of_fit_all", "_refine_ls_goodness_of_fit_all")
}

// phases lists the fractions. Mass per cent here is of the crystalline specimen and sums to 100 over its own phases;
// preparation artefacts and an added standard are a full stop (not applicable).
func (b *cifBlock) phases(doc result.Document) {
	if len(doc.Phases) > 0 {
		method := "relative intensity ratios, normalised to 100 % of the crystalline specimen"
		switch doc.Absorption {
		case result.AbsorptionMosaic:
			method += ", corrected for absorption in the regions of a section of stated mean linear intercepts"
		case result.AbsorptionEither:
			method += "; values of a fine powder with intervals that hold those of a section of coarse regions, since neither is stated"
		case result.AbsorptionLimits:
			method += "; mean of the limits of fine and of coarse regions of a section of unknown intercepts"
		}
		b.words(method, "_pd_qpa_overall.method")
	}
	if a := doc.Absolute; a != nil {
		b.number(a.StandardWeightPercent, "_pd_qpa_internal_std.mass_percent")
		b.number(a.KFactor, "_pd_qpa_external_std.k_factor")
	}
	at := func(get func(result.Phase) cif.Value) func(int) cif.Value {
		return func(i int) cif.Value { return get(doc.Phases[i]) }
	}
	b.loop(len(doc.Phases),
		column{[]string{"_pd_phase.id", "_pd_phase_id"}, at(func(p result.Phase) cif.Value { return cif.Text(p.ID) })},
		column{[]string{"_pd_phase.name", "_pd_phase_name"}, at(func(p result.Phase) cif.Value { return cif.Text(p.Name) })},
		column{[]string{"_pd_phase_mass.percent", "_pd_phase_mass_%"}, at(func(p result.Phase) cif.Value {
			if p.Origin != "specimen" {
				return cif.Value{Text: "."}
			}
			return withInterval(p.WeightPercent, p.WeightPercentLo, p.WeightPercentHi)
		})},
		column{[]string{"_pd_phase_mass.original"}, at(func(p result.Phase) cif.Value {
			return withInterval(p.OriginalWeightPercent, p.OriginalWeightPercentLo, p.OriginalWeightPercentHi)
		})},
		column{[]string{"_pd_qpa_calib_factor.RIR"}, at(func(p result.Phase) cif.Value { return optionalValue(p.RIR) })})
}

// micrograph lists what was measured on an image of the section beside what diffraction says. The dictionaries have no names for
// it; these are this program's own, under its own prefix, as CIF leaves room for.
func (b *cifBlock) micrograph(doc result.Document) {
	lengths := doc.Scan.Intercepts
	b.loop(len(lengths),
		column{[]string{"_phasetally_intercept.phase_id"}, func(i int) cif.Value {
			if lengths[i].ID == "" {
				return cif.Value{Text: "."}
			}
			return cif.Text(lengths[i].ID)
		}},
		column{[]string{"_phasetally_intercept.mean_micrometres"}, func(i int) cif.Value { return cif.Measured(lengths[i].Micron, lengths[i].U) }})
	if doc.Micrograph == nil {
		return
	}
	list := doc.Micrograph.Phases
	b.loop(len(list),
		column{[]string{"_phasetally_area.phase_id"}, func(i int) cif.Value { return cif.Text(list[i].ID) }},
		column{[]string{"_phasetally_area.percent"}, func(i int) cif.Value { return measuredOr(list[i].AreaPercent, list[i].AreaU) }},
		column{[]string{"_phasetally_area.volume_percent_diffraction"}, func(i int) cif.Value { return measuredOr(list[i].VolumePercent, list[i].VolumeU) }},
		column{[]string{"_phasetally_area.mass_percent_combined"}, func(i int) cif.Value {
			return withInterval(list[i].CombinedWeight, list[i].CombinedWeightLo, list[i].CombinedWeightHi)
		}})
}

// measuredOr is a value with its standard uncertainty; unknown without.
func measuredOr(v, u *float64) cif.Value {
	if v == nil || u == nil {
		return optionalValue(v)
	}
	return cif.Measured(*v, *u)
}

func optionalValue(v *float64) cif.Value {
	if v == nil {
		return cif.Unknown
	}
	return cif.Number(*v)
}

// withInterval gives a value with the standard uncertainty that a 95 % interval stands for: a quarter of its width over
// 0.98.
func withInterval(v, lo, hi *float64) cif.Value {
	if v == nil {
		return cif.Unknown
	}
	if lo == nil || hi == nil {
		return cif.Number(*v)
	}
	return cif.Measured(*v, (*hi-*lo)/(2*1.959964))
}

func (b *cifBlock) peaks(peaks []result.Peak) {
	at := func(get func(result.Peak) cif.Value) func(int) cif.Value {
		return func(i int) cif.Value { return get(peaks[i]) }
	}
	b.loop(len(peaks),
		column{[]string{"_pd_peak.id", "_pd_peak_id"}, func(i int) cif.Value { return cif.Number(float64(i + 1)) }},
		column{[]string{"_pd_peak.2theta_centroid", "_pd_peak_2theta_centroid"}, at(func(p result.Peak) cif.Value { return cif.Measured(p.TwoTheta, p.TwoThetaU) })},
		column{[]string{"_pd_peak.d_spacing", "_pd_peak_d_spacing"}, at(func(p result.Peak) cif.Value { return cif.Rounded(p.D, 5) })},
		column{[]string{"_pd_peak.pk_height", "_pd_peak_pk_height"}, at(func(p result.Peak) cif.Value { return cif.Rounded(p.Height, 2) })},
		column{[]string{"_pd_peak.intensity", "_pd_peak_intensity"}, at(func(p result.Peak) cif.Value { return cif.Measured(p.Area, p.AreaU) })},
		column{[]string{"_pd_peak.width_2theta", "_pd_peak_width_2theta"}, at(func(p result.Peak) cif.Value { return cif.Rounded(p.FWHM, 4) })})
}

// profile is the scan point by point; a weight of 0 marks what the fit left out.
func (b *cifBlock) profile(r result.Analysis) {
	c := r.Curves
	observed := []string{"_pd_meas.intensity_total", "_pd_meas_intensity_total"}
	if r.Document.Scan.NoiseModel == "poisson" {
		observed = []string{"_pd_meas.counts_total", "_pd_meas_counts_total"}
	}
	digits := func(v []float64, decimals int) func(int) cif.Value {
		return func(i int) cif.Value { return cif.Rounded(v[i], decimals) }
	}
	b.loop(len(c.TwoTheta),
		column{[]string{"_pd_meas.2theta_scan", "_pd_meas_2theta_scan"}, digits(c.TwoTheta, 5)},
		column{observed, func(i int) cif.Value { return cif.Number(c.Observed[i]) }},
		column{[]string{"_pd_calc.intensity_total", "_pd_calc_intensity_total"}, digits(c.Calculated, 3)},
		column{[]string{"_pd_proc.intensity_bkg_calc", "_pd_proc_intensity_bkg_calc"}, digits(c.Background, 3)},
		column{[]string{"_pd_proc_ls.weight", "_pd_proc_ls_weight"}, func(i int) cif.Value {
			if masked(c, i) == 1 {
				return cif.Number(0)
			}
			w := 1 / (c.Sigma[i] * c.Sigma[i])
			if math.IsNaN(w) || math.IsInf(w, 0) {
				return cif.Unknown
			}
			return cif.Value{Text: fmt.Sprintf("%.6g", w)}
		}})
}

// phase is the block of one phase.
func (b *cifBlock) phase(p result.Phase) {
	b.words(p.ID, "_pd_phase.id", "_pd_phase_id")
	b.words(p.Name, "_pd_phase.name", "_pd_phase_name")
	b.words(p.Formula, "_chemical_formula.sum", "_chemical_formula_sum")
	b.number(p.Density, "_exptl_crystal.density_diffrn", "_exptl_crystal_density_diffrn")
	if c := p.Cell; c != nil {
		var u [6]float64
		if p.CellU != nil {
			u = [6]float64{p.CellU.A, p.CellU.B, p.CellU.C, p.CellU.Alpha, p.CellU.Beta, p.CellU.Gamma}
		}
		for i, item := range []struct {
			name string
			v    float64
		}{{"length_a", c.A}, {"length_b", c.B}, {"length_c", c.C}, {"angle_alpha", c.Alpha}, {"angle_beta", c.Beta}, {"angle_gamma", c.Gamma}} {
			b.put(cif.Measured(item.v, u[i]), "_cell."+item.name, "_cell_"+item.name)
		}
	}
	b.loop(len(p.Texture),
		column{[]string{"_pd_pref_orient_March_Dollase.index_h"}, func(i int) cif.Value { return cif.Number(float64(p.Texture[i].Pole[0])) }},
		column{[]string{"_pd_pref_orient_March_Dollase.index_k"}, func(i int) cif.Value { return cif.Number(float64(p.Texture[i].Pole[1])) }},
		column{[]string{"_pd_pref_orient_March_Dollase.index_l"}, func(i int) cif.Value { return cif.Number(float64(p.Texture[i].Pole[2])) }},
		column{[]string{"_pd_pref_orient_March_Dollase.r"}, func(i int) cif.Value { return cif.Measured(p.Texture[i].R, p.Texture[i].RU) }})
}
