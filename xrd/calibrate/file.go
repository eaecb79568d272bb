package calibrate

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"

	"phasetally/xrd"
)

// Schema is the first value of an instrument file.
const Schema = "phasetally.instrument/1"

// maxFile is more than any instrument file needs, bytes.
const maxFile = 1 << 16

// ErrInstrumentFile says that a file does not describe an instrument; test with errors.Is.
var ErrInstrumentFile = errors.New("not an instrument file")

// About is what an instrument file tells beside the instrument: where its numbers come from.
type About struct {
	Scan          string        // file that was calibrated with
	Standard      string        // id of the standard
	Radiation     xrd.Radiation // with the Kα2/Kα1 ratio that was used
	Range         [2]float64    // degrees 2θ that were fitted
	Displacement  float64       // of that specimen, mm; not a property of the instrument
	DisplacementU float64       // its standard uncertainty
	Correlation   float64       // of the shifts that zero and displacement cause
}

// content is a file being read or written: what the keys point into.
type content struct {
	schema, radiation, slit, monochromator string
	ratio                                  float64
	ins                                    xrd.Instrument
	about                                  About
}

// A field is one key of the file: its meaning for the reader, where it lives, and what values it may have.
type field struct {
	key, comment string
	old          string // key of files written before the widths had descriptive names; "" for none
	text         func(*content) *string
	number       func(*content) *float64
	least, most  float64
	required     bool
}

// mostAxial is the longest tail, degrees: ½ ((H + S)/L)² rad for specimen and slit of 30 mm height on a radius of 190 mm and no Soller slits
// (after Finger, Cox & Jephcoat 1994).
const mostAxial = 0.72

// fields are the keys in the order in which they are written.
var fields = []field{
	{key: "schema", text: func(c *content) *string { return &c.schema }, required: true},
	{key: "name", comment: "of the diffractometer, free text", text: func(c *content) *string { return &c.ins.Name }},
	{key: "radiation", comment: "tube, or Kα1 or Kα1,Kα2 in Å", text: func(c *content) *string { return &c.radiation }, required: true},
	{key: "kalpha2_ratio", comment: "intensity of Kα2 over Kα1", number: func(c *content) *float64 { return &c.ratio }, most: 1},
	{key: "radius_mm", comment: "goniometer radius, mm", number: func(c *content) *float64 { return &c.ins.Radius }, least: 10, most: 2000, required: true},
	{key: "slit", comment: "divergence slit: fixed:DEGREES, automatic:MM, or empty when not stated", text: func(c *content) *string { return &c.slit }},
	{key: "monochromator", comment: "none, graphite, its angle in degrees 2θ, or perfect:ANGLE", text: func(c *content) *string { return &c.monochromator }},
	{key: "zero", comment: "added to every angle, degrees 2θ", number: func(c *content) *float64 { return &c.ins.Zero }, least: -5, most: 5, required: true},
	{key: "zero_u", comment: "its standard uncertainty, degrees 2θ", number: func(c *content) *float64 { return &c.ins.ZeroU }, most: 5},
	{key: "gauss_tan2", old: "u", comment: "Gaussian width² = gauss_tan2 tan²θ + gauss_tan tan θ + gauss_const, degrees²", number: func(c *content) *float64 { return &c.ins.GaussTan2 }, least: -10, most: 10, required: true},
	{key: "gauss_tan", old: "v", comment: "degrees²", number: func(c *content) *float64 { return &c.ins.GaussTan }, least: -10, most: 10, required: true},
	{key: "gauss_const", old: "w", comment: "degrees²", number: func(c *content) *float64 { return &c.ins.GaussConst }, least: -10, most: 10, required: true},
	{key: "lorentz_size", old: "x", comment: "Lorentzian width = lorentz_size/cos θ + lorentz_strain tan θ, degrees", number: func(c *content) *float64 { return &c.ins.LorentzSize }, least: -5, most: 5, required: true},
	{key: "lorentz_strain", old: "y", comment: "degrees", number: func(c *content) *float64 { return &c.ins.LorentzStrain }, least: -5, most: 5, required: true},
	{key: "axial", comment: "axial-divergence tail: a line reaches down by axial/tan 2θ, degrees", number: func(c *content) *float64 { return &c.ins.Axial }, most: mostAxial, required: true},
	{key: "standard", comment: "what follows is for the record", text: func(c *content) *string { return &c.about.Standard }},
	{key: "scan", comment: "file that was calibrated with", text: func(c *content) *string { return &c.about.Scan }},
	{key: "two_theta_min", comment: "degrees that were fitted", number: func(c *content) *float64 { return &c.about.Range[0] }, least: -180, most: 180},
	{key: "two_theta_max", comment: "degrees", number: func(c *content) *float64 { return &c.about.Range[1] }, least: -180, most: 180},
	{key: "displacement_mm", comment: "of the standard's surface below the focusing plane, mm; other specimens have their own", number: func(c *content) *float64 { return &c.about.Displacement }, least: -10, most: 10},
	{key: "displacement_u_mm", comment: "its standard uncertainty, mm", number: func(c *content) *float64 { return &c.about.DisplacementU }, most: 10},
	{key: "zero_displacement_correlation", comment: "of the shifts that zero and displacement cause", number: func(c *content) *float64 { return &c.about.Correlation }, least: -1, most: 1},
}

func contentOf(ins xrd.Instrument, about About) content {
	return content{schema: Schema, radiation: about.Radiation.Text(), slit: ins.Slit.String(),
		monochromator: monochromatorText(ins.Monochromator), ratio: about.Radiation.Ratio, ins: ins, about: about}
}

// WriteInstrument writes an instrument file (TOML) that ReadInstrument reads back exactly, Calibrated set. Values that
// ReadInstrument would refuse are ErrInstrumentFile.
func WriteInstrument(w io.Writer, ins xrd.Instrument, about About) error {
	c := contentOf(ins, about)
	if key, err := possible(ins, about.Range); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrInstrumentFile, key, err)
	}
	var b strings.Builder
	b.WriteString("# Instrument of phasetally, from the scan of a standard. Give it to other commands with --instrument.\n")
	for _, f := range fields {
		value, err := f.write(&c)
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "%s = %s", f.key, value)
		if f.comment != "" {
			fmt.Fprintf(&b, " # %s", f.comment)
		}
		b.WriteByte('\n')
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (f field) write(c *content) (string, error) {
	if f.text != nil {
		return quoted(*f.text(c)), nil
	}
	v := *f.number(c)
	if err := f.inRange(v); err != nil {
		return "", fmt.Errorf("%w: %s: %w", ErrInstrumentFile, f.key, err)
	}
	return numberText(v), nil
}

// numberText writes a float of TOML: all digits, and a point or an exponent.
func numberText(v float64) string {
	s := strconv.FormatFloat(v, 'g', -1, 64)
	if !strings.ContainsAny(s, ".e") {
		s += ".0"
	}
	return s
}

func (f field) inRange(v float64) error {
	if !(v >= f.least && v <= f.most) {
		return fmt.Errorf("%g lies outside %g to %g", v, f.least, f.most)
	}
	return nil
}

// quoted writes a TOML basic string.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range strings.ToValidUTF8(s, "\uFFFD") {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

// monochromatorText names a monochromator with all digits of its angle.
func monochromatorText(m xrd.Monochromator) string {
	angle := strconv.FormatFloat(m.TwoTheta, 'g', -1, 64)
	switch m.Kind {
	case xrd.MosaicMonochromator:
		return angle
	case xrd.PerfectMonochromator:
		return "perfect:" + angle
	}
	return "none"
}

// ReadInstrument reads an instrument file. Input that it refuses (no TOML, an unknown or missing key, a value of the
// wrong type or out of range) is a *xrd.SyntaxError that names the file and the line.
func ReadInstrument(r io.Reader, name string) (xrd.Instrument, About, error) {
	raw, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return xrd.Instrument{}, About{}, err
	}
	in := input{name: name, text: string(raw)}
	if len(raw) > maxFile {
		return xrd.Instrument{}, About{}, in.refuse("", fmt.Errorf("%w: longer than %d bytes", ErrInstrumentFile, maxFile))
	}
	c := content{monochromator: "none", ratio: math.NaN()}
	if err := in.read(&c); err != nil {
		return xrd.Instrument{}, About{}, err
	}
	return c.ins, c.about, nil
}

// input is a file under reading.
type input struct{ name, text string }

// refuse makes the error for a key; an empty key means the whole file.
func (in input) refuse(key string, err error) error {
	line := 0
	if key != "" {
		at := regexp.MustCompile(`(?m)^[ \t]*\[*[ \t]*"?` + regexp.QuoteMeta(key) + `"?[ \t]*[\].=]`).FindStringIndex(in.text)
		if at != nil {
			line = 1 + strings.Count(in.text[:at[0]], "\n")
		}
		err = fmt.Errorf("%s: %w", key, err)
	}
	return &xrd.SyntaxError{File: in.name, Line: line, Err: err, Fix: "correct it, or write the file anew with phasetally calibrate"}
}

func (in input) read(c *content) error {
	values := map[string]any{}
	if _, err := toml.Decode(in.text, &values); err != nil {
		out := &xrd.SyntaxError{File: in.name, Err: fmt.Errorf("%w: %w", ErrInstrumentFile, err), Fix: "give the TOML file that phasetally calibrate wrote"}
		if at := (toml.ParseError{}); errors.As(err, &at) {
			out.Line, out.Err = at.Position.Line, fmt.Errorf("%w: %s", ErrInstrumentFile, at.Message)
		}
		return out
	}
	for _, f := range fields {
		if _, given := values[f.key]; !given && f.old != "" && values[f.old] != nil {
			f.key = f.old
		}
		if err := f.read(c, values); err != nil {
			return in.refuse(f.key, err)
		}
		delete(values, f.key)
		if f.key == "schema" && c.schema != Schema {
			return in.refuse(f.key, fmt.Errorf("%w: schema %q, this version reads %q", ErrInstrumentFile, c.schema, Schema))
		}
	}
	if len(values) > 0 {
		return in.refuse(slices.Sorted(maps.Keys(values))[0], errors.New("unknown key"))
	}
	return in.resolve(c)
}

func (f field) read(c *content, values map[string]any) error {
	v, given := values[f.key]
	if !given {
		if f.required {
			return errors.New("the key is missing")
		}
		return nil
	}
	if f.text != nil {
		s, ok := v.(string)
		if !ok {
			return fmt.Errorf("expected a text in quotes, not %v", v)
		}
		*f.text(c) = s
		return nil
	}
	switch n := v.(type) {
	case float64:
		*f.number(c) = n
	case int64:
		*f.number(c) = float64(n)
	default:
		return fmt.Errorf("expected a number, not %v", v)
	}
	return f.inRange(*f.number(c))
}

// resolve turns the words of a file into values.
func (in input) resolve(c *content) error {
	var err error
	if c.about.Radiation, err = xrd.ParseRadiation(c.radiation); err != nil {
		return in.refuse("radiation", err)
	}
	if !math.IsNaN(c.ratio) {
		c.about.Radiation.Ratio = c.ratio
	}
	if c.ins.Monochromator, err = xrd.ParseMonochromator(c.monochromator, c.about.Radiation); err != nil {
		return in.refuse("monochromator", err)
	}
	if c.slit != "" {
		if c.ins.Slit, err = xrd.ParseSlit(c.slit); err != nil {
			return in.refuse("slit", err)
		}
	}
	if key, err := possible(c.ins, c.about.Range); err != nil {
		for _, f := range fields {
			if f.key == key && !strings.Contains(in.text, key) {
				key = f.old
			}
		}
		return in.refuse(key, err)
	}
	c.ins.Calibrated, c.ins.Tube = true, c.about.Radiation.Name
	return nil
}
