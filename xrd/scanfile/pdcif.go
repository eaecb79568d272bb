package scanfile

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasetally/xrd"
	"phasetally/xrd/cif"
)

// isCIF recognises a CIF by its first lines without consuming them.
func isCIF(text *bufio.Reader) bool {
	head, _ := text.Peek(sniffed)
	if bytes.HasPrefix(head, []byte(`#\#CIF`)) {
		return true
	}
	for line := range bytes.Lines(head) {
		line = bytes.ToLower(bytes.TrimSpace(line))
		if len(line) > 0 && line[0] != '#' {
			return bytes.HasPrefix(line, []byte("data_"))
		}
	}
	return false
}

// The tags of the powder dictionary that hold a scan, measured before processed. The parser reads dots as underscores.
var (
	intensityTags = []string{"_pd_meas_counts_total", "_pd_meas_intensity_total", "_pd_proc_intensity_total", "_pd_proc_intensity_net"}
	angleTags     = []string{"_pd_meas_2theta_scan", "_pd_proc_2theta_corrected", "_pd_meas_2theta_corrected"}
	rangeTags     = []string{"_pd_meas_2theta_range_", "_pd_proc_2theta_range_"}
)

// readCIF reads the first data block that holds a scan.
func (f *file) readCIF(text *bufio.Reader) (xrd.Scan, error) {
	doc, err := cif.Read(text, f.name)
	if err != nil {
		var at *xrd.SyntaxError
		if !errors.As(err, &at) {
			err = f.fail(err) // the reader's own error
		}
		return xrd.Scan{}, err
	}
	for i := range doc.Blocks {
		b := &doc.Blocks[i]
		if tag, column := firstColumn(b, intensityTags, 2); column != nil {
			if err := f.readBlock(b, tag, column); err != nil {
				return xrd.Scan{}, f.fail(err)
			}
			f.line = 0
			return f.finish()
		}
	}
	for i := range doc.Blocks {
		if _, ok := doc.Blocks[i].Value("_cell_length_a", "_cell.length_a"); ok {
			return xrd.Scan{}, f.fail(ErrStructure)
		}
	}
	return xrd.Scan{}, f.fail(fmt.Errorf("%w: no block has %s", ErrNoData, strings.Join(intensityTags, ", ")))
}

// firstColumn returns the first of the tags that has at least n values.
func firstColumn(b *cif.Block, tags []string, n int) (string, []cif.Value) {
	for _, tag := range tags {
		if c := b.Column(tag); len(c) >= n {
			return tag, c
		}
	}
	return "", nil
}

// readBlock reads the points, and then what the block says of the measurement. Points without a value are left out.
func (f *file) readBlock(b *cif.Block, tag string, intensities []cif.Value) error {
	angle, err := f.cifAngles(b, len(intensities))
	if err != nil {
		return err
	}
	uncertainties := b.Column(tag + "_su")
	if len(uncertainties) != len(intensities) {
		uncertainties = nil
	}
	for i, v := range intensities {
		if !v.Given() {
			continue
		}
		f.line = v.Line
		y, su, err := number(v)
		if err != nil {
			return err
		}
		if uncertainties != nil {
			if su, _, err = number(uncertainties[i]); err != nil {
				return err
			}
		}
		t, err := angle(i)
		if err != nil {
			return err
		}
		values := []float64{t, y}
		if su > 0 {
			values = append(values, su)
		}
		if err := f.add(values); err != nil {
			return err
		}
	}
	return f.readMeasurement(b)
}

// number reads a value that must be finite.
func number(v cif.Value) (value, su float64, err error) {
	value, su, err = v.Number()
	if err != nil {
		return 0, 0, fmt.Errorf("%q: %w", short(v.Text), ErrNumber)
	}
	return value, su, nil
}

// cifAngles returns the angle of each point, from a column or from a range.
func (f *file) cifAngles(b *cif.Block, n int) (func(i int) (float64, error), error) {
	for _, tag := range angleTags {
		if column := b.Column(tag); len(column) == n {
			return func(i int) (float64, error) {
				v, _, err := number(column[i])
				return v, err
			}, nil
		}
	}
	for _, tag := range rangeTags {
		if _, ok := b.Value(tag + "min"); ok {
			return f.cifRange(b, tag, n)
		}
	}
	return nil, fmt.Errorf("%w: as many angles as intensities (%d) are expected in %s", ErrFewColumns, n, strings.Join(angleTags, ", "))
}

// cifRange spreads n points over a range, which must hold that many steps.
func (f *file) cifRange(b *cif.Block, tag string, n int) (func(i int) (float64, error), error) {
	var ends [3]float64
	for k, end := range []string{"min", "max", "inc"} {
		v, ok := b.Value(tag + end)
		f.line = v.Line
		if !ok {
			return nil, fmt.Errorf("%w: %s%s is missing", ErrNoData, tag, end)
		}
		var err error
		if ends[k], _, err = number(v); err != nil {
			return nil, err
		}
	}
	lo, hi, step := ends[0], ends[1], ends[2]
	if steps := (hi - lo) / step; !(step > 0) || !(math.Abs(steps-float64(n-1)) < 0.5) {
		return nil, fmt.Errorf("%w: %g° to %g° in steps of %g° is not %d points", ErrFewColumns, lo, hi, step, n)
	}
	// The ends are known best: the step is often rounded. A multiple of the last digit keeps 10.02 from being 10.0199….
	return func(i int) (float64, error) {
		return math.Round((lo+(hi-lo)*float64(i)/float64(max(n-1, 1)))*1e6) / 1e6, nil
	}, nil
}

// readMeasurement reads how the scan was taken.
func (f *file) readMeasurement(b *cif.Block) error {
	a := &f.about
	a.Sample = oneLine.Replace(b.Text("_pd_spec_description", "_pd_char_special_details"))
	a.Mount = oneLine.Replace(b.Text("_pd_spec_mounting"))
	for _, q := range []struct {
		to   *float64
		tags []string
	}{
		{&a.Radius, []string{"_pd_instr_dist_src/spec", "_pd_instr_dist_src_spec", "_pd_instr_dist_spec/detc", "_pd_instr_dist_spec_detc"}},
		{&a.CountingTime, []string{"_pd_meas_step_count_time"}},
	} {
		if v, ok := b.Value(q.tags...); ok {
			x, _, err := number(v)
			if f.line = v.Line; err != nil || !(x > 0 && x <= 1e6) {
				return fmt.Errorf("%w of %s: %q is not a number above 0", ErrKey, q.tags[0], short(v.Text))
			}
			*q.to = x
		}
	}
	if err := f.readOptics(b); err != nil {
		return err
	}
	return f.readRadiation(b)
}

// readOptics reads the monochromator's angle and the slit.
func (f *file) readOptics(b *cif.Block) error {
	if v, ok := b.Value("_pd_instr_2theta_monochr_post", "_pd_instr_2theta_monochr_pre"); ok {
		f.line = v.Line
		if x, _, err := number(v); err != nil || !(x >= 0 && x < 180) {
			return fmt.Errorf("%w: %w %q", ErrKey, xrd.ErrUnknownMonochromator, short(v.Text))
		} else if x > 0 {
			f.about.Monochromator = strconv.FormatFloat(x, 'g', -1, 64)
		}
	}
	word, tags := "fixed", []string{"_pd_instr_divg_eq_src/spec", "_pd_instr_divg_eq_src_spec"}
	if strings.HasPrefix(strings.ToLower(b.Text("_pd_instr_cons_illum_flag")), "y") {
		word, tags = "automatic", []string{"_pd_instr_cons_illum_len"}
	}
	v, ok := b.Value(tags...)
	if ok {
		f.line = v.Line
		x, _, err := number(v)
		if err != nil {
			return err
		}
		word += ":" + strconv.FormatFloat(x, 'g', -1, 64)
	}
	if !ok && word == "fixed" {
		return nil
	}
	slit, err := xrd.ParseSlit(word)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrKey, err)
	}
	f.about.Slit = &slit
	return nil
}

// errProbe says that a scan was not taken with X-rays.
var errProbe = errors.New("not an X-ray scan")

// readRadiation reads the wavelengths: two are Kα1 and Kα2; one is monochromatic unless the type names an anode without
// saying Kα1.
func (f *file) readRadiation(b *cif.Block) error {
	if v, ok := b.Value("_diffrn_radiation_probe"); ok && !strings.HasPrefix(strings.ToLower(v.Text), "x") {
		f.line = v.Line
		return fmt.Errorf("%w: %w, %q", ErrKey, errProbe, short(v.Text))
	}
	var given []float64
	for _, v := range b.Column("_diffrn_radiation_wavelength", "_diffrn_radiation_wavelength_wavelength") {
		if !v.Given() {
			continue
		}
		f.line = v.Line
		x, _, err := number(v)
		if err != nil {
			return err
		}
		given = append(given, x)
	}
	slices.Sort(given)
	name := cifRadiation(b.Text("_diffrn_radiation_type"), given)
	if name == "" {
		return nil
	}
	r, err := xrd.ParseRadiation(name)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrKey, err)
	}
	f.about.Radiation = &r
	return nil
}

// cifRadiation puts type and wavelengths of a CIF into the words of xrd.ParseRadiation; it is empty when they say
// nothing.
func cifRadiation(kind string, wavelengths []float64) string {
	kind = strings.ToLower(strings.NewReplacer(`\a`, "α", " ", "", "~", "", "_", "").Replace(kind))
	single := strings.Contains(kind, "α1") || strings.Contains(kind, "a1")
	for _, anode := range xrd.Anodes() {
		named := strings.HasPrefix(kind, strings.ToLower(anode.Name)) && !(single && !strings.Contains(kind, "2"))
		if named && (len(wavelengths) == 0 || len(wavelengths) == 1 && math.Abs(wavelengths[0]/anode.KAlpha1-1) < 1e-3) {
			return anode.Name
		}
	}
	var words []string
	for _, w := range wavelengths {
		words = append(words, strconv.FormatFloat(w, 'g', -1, 64))
	}
	return strings.Join(words, ",")
}
