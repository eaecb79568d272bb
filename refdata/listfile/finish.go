package listfile

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
)

// list turns the collected texts and rows into the List.
func (b *builder) list(t *table) (List, error) {
	l := &b.out
	l.Formula, l.SpaceGroup, l.Source = b.get("formula"), b.get("space_group"), b.get("source")
	l.Preparation, l.Confidence, l.DensityOrigin = b.get("preparation"), b.get("confidence"), b.get("density_origin")
	for _, step := range []func(*table) error{b.physics, b.rir, b.beam, b.cell, b.weight, b.lines, b.ratio} {
		if err := step(t); err != nil {
			return List{}, err
		}
	}
	b.formula()
	l.Cautions = cautionsOf(b.get("cautions"))
	for _, column := range t.columns.unknown {
		l.Notes = append(l.Notes, fmt.Sprintf("%s: the column %.40q is not used", t.file, column))
	}
	return *l, nil
}

func (b *builder) get(column string) string { return b.texts[column].value }

// value parses a number of the phase; 0 when not given.
func (b *builder) value(t *table, column string, lo, hi float64) (float64, error) {
	got, ok := b.texts[column]
	if !ok {
		return 0, nil
	}
	t.line = got.line
	return t.parse(got.value, column, lo, hi)
}

// smallest is the least number that counts as positive.
const smallest = 1e-6

// leastDensity, g/cm³, is below that of any solid but aerogels: lithium has 0.53 (from memory).
const leastDensity = 0.05

func (b *builder) physics(t *table) (err error) {
	l := &b.out
	if l.Density, err = b.value(t, "density", leastDensity, refdata.MaxDensity); err != nil {
		return err
	}
	if l.Density > 0 && l.DensityOrigin == "" {
		l.DensityOrigin = "given"
	}
	if l.Z, err = b.value(t, "z", smallest, 1e6); err != nil {
		return err
	}
	if l.MassAbsorption, err = b.value(t, "mass_absorption", smallest, 1e6); err != nil {
		return err
	}
	switch s := strings.ToLower(b.get("soluble")); s {
	case "yes", "true", "1":
		l.SolidSolution = true
	case "", "no", "false", "0":
	default:
		return b.choice(t, "soluble", "yes or no")
	}
	return nil
}

func (b *builder) choice(t *table, column, words string) error {
	t.line = b.texts[column].line
	return t.refuse(fmt.Errorf("%w: %s is %.40q", ErrChoice, column, b.get(column)), "write "+words)
}

// rir reads the ratio. Without a stated uncertainty a computed one gets 5 %, any other 10 % (common practice).
func (b *builder) rir(t *table) (err error) {
	r := refdata.RIR{Origin: strings.ToLower(b.get("rir_origin")), Basis: strings.ToLower(b.get("rir_basis")), Radiation: b.get("rir_radiation")}
	if r.Value, err = b.value(t, "rir", smallest, refdata.MaxRIR); err != nil {
		return err
	}
	if r.RelU, err = b.value(t, "rir_u", 0, 10); err != nil {
		return err
	}
	if !slices.Contains([]string{"", "computed", "measured"}, r.Origin) {
		return b.choice(t, "rir_origin", "computed or measured")
	}
	if !slices.Contains([]string{"", "area", "height"}, r.Basis) {
		return b.choice(t, "rir_basis", "area or height")
	}
	if r.Value == 0 {
		return nil // words about a ratio that is not there
	}
	if _, given := b.texts["rir_u"]; !given {
		r.RelU = 0.10
		if r.Origin == "computed" {
			r.RelU = 0.05
		}
	}
	b.out.RIR = r
	return nil
}

// beam reads the radiation of the intensities: that of the list, else that of the RIR.
func (b *builder) beam(t *table) error {
	for _, column := range []string{"rir_radiation", "radiation"} {
		got, ok := b.texts[column]
		if !ok {
			continue
		}
		t.line = got.line
		radiation, err := xrd.ParseRadiation(t.wavelength(got.value))
		if err != nil {
			return t.refuse(err, "name the anode")
		}
		b.out.Radiation = &radiation
	}
	if got, ok := b.texts["monochromator"]; ok {
		radiation := copper
		if b.out.Radiation != nil {
			radiation = *b.out.Radiation
		}
		if _, err := xrd.ParseMonochromator(got.value, radiation); err != nil {
			t.line = got.line
			return t.refuse(err, "write none, graphite or an angle")
		}
		b.out.Monochromator = got.value
	}
	return nil
}

// wavelength understands the decimal comma of one wavelength: "1,5406" is no pair of wavelengths.
func (t *table) wavelength(s string) string {
	if whole, frac, ok := strings.Cut(s, ","); ok && len(whole) == 1 && !strings.ContainsAny(frac, ".,") && len(frac) > 1 {
		return whole + "." + frac
	}
	return s
}

func (b *builder) cell(t *table) error {
	var n [6]float64
	given := 0
	for i, column := range []string{"a", "b", "c", "alpha", "beta", "gamma"} {
		v, err := b.value(t, column, smallest, 1e4)
		if err != nil {
			return err
		}
		if v > 0 {
			given++
		} else if v = n[0]; i > 2 {
			v = 90
		}
		n[i] = v
	}
	if given == 0 {
		return nil
	}
	c := refdata.Cell{A: n[0], B: n[1], C: n[2], Alpha: n[3], Beta: n[4], Gamma: n[5]}
	if err := c.Check(); err != nil {
		t.line = b.texts["a"].line
		return t.refuse(err, "give a, b, c in Å and the angles in degrees")
	}
	b.out.Cell = &c
	return nil
}

// heavier is how far a stated density may be from that of formula, Z and cell, relative: more is no rounding, nor another
// temperature.
const heavier = 0.1

const avogadro = 0.602214076 // 10²⁴/mol (SI, exact)

// weight compares the density with formula units in the cell; one unit at least is there.
func (b *builder) weight(t *table) error {
	l := &b.out
	f, err := refdata.ParseFormula(l.Formula)
	if l.Cell == nil || err != nil {
		return nil
	}
	rho := math.Max(1, l.Z) * f.Mass() / avogadro / l.Cell.Volume()
	t.line = b.texts["a"].line
	switch {
	case l.Z > 0 && l.Z < 1: // a part of a unit, as in formulae of a whole cell
		return nil
	case !(rho <= refdata.MaxDensity):
		return t.refuse(fmt.Errorf("%w: %s in a cell of %.4g Å³ would have %.4g g/cm³", ErrNumber, l.Formula, l.Cell.Volume(), rho), "correct the cell or z")
	case l.Z >= 1 && l.Density > 0 && !(math.Abs(l.Density/rho-1) <= heavier):
		return t.refuse(fmt.Errorf("%w: density is %g g/cm³, and %g units of %s in the cell make %.4g", ErrConflict, l.Density, l.Z, l.Formula, rho),
			"correct density, z, formula or cell")
	}
	return nil
}

// leastWidest, Å, is half of the largest spacing of the crystal that has the smallest, beryllium with 1.98, diamond with 2.06 (from memory).
const leastWidest = 1.0

// lines checks the rows against the cell and scales the intensities.
func (b *builder) lines(t *table) error {
	top, widest := 0.0, 0.0
	for _, row := range b.rows {
		top, widest = math.Max(top, row.Intensity), math.Max(widest, row.D)
	}
	if widest < leastWidest {
		t.line = b.rows[0].Line
		return t.refuse(fmt.Errorf("%w: the largest spacing of %s is %.4g Å, less than two atoms of any crystal leave", ErrNumber, b.out.Name, widest), "give d in Å; 1 nm is 10 Å")
	}
	if !(top > 0) {
		t.line = b.rows[0].Line
		return t.refuse(fmt.Errorf("%w: every intensity of %s is zero", ErrNumber, b.out.Name), "give the intensities")
	}
	for i := range b.rows {
		b.rows[i].Intensity = b.rows[i].Intensity / top * 100
		if err := b.fits(t, b.rows[i]); err != nil {
			return err
		}
	}
	b.out.Rows = b.rows
	return b.once(t)
}

// once refuses a line that is listed twice, as copy and paste make it: the phase would count with twice its intensities.
// Reflections that coincide are two lines with indices of their own.
func (b *builder) once(t *table) error {
	type key struct {
		d         float64
		h, k, l   int
		intensity float64
	}
	seen := map[key]int{}
	for _, row := range b.rows {
		d := math.Round(row.D * 1e6) // the digits that lists are written with
		k := key{d: d, intensity: math.Round(row.Intensity * 1e4)}
		if len(row.Families) > 0 {
			f := row.Families[0]
			k = key{d: d, h: f.H, k: f.K, l: f.L}
		}
		if before, twice := seen[k]; twice {
			t.line = row.Line
			return t.refuse(fmt.Errorf("%w: the line at %.5g Å of %s is listed in line %d already", ErrTwice, row.D, b.out.Name, before),
				"list every line of a phase once, or give a second phase a name of its own")
		}
		seen[k] = row.Line
	}
	return nil
}

// tolerableD is how far d may be from the cell's, relative: more is a wrong cell or wrong indices, not thermal expansion.
const tolerableD = 0.02

func (b *builder) fits(t *table, row Row) error {
	if b.out.Cell == nil {
		return nil
	}
	for _, f := range row.Families {
		d := b.out.Cell.Reciprocal().D(f.H, f.K, f.L)
		if !(math.Abs(d/row.D-1) <= tolerableD) {
			t.line = row.Line
			return t.refuse(fmt.Errorf("%w: %d %d %d would be %.4f Å, not %.4f", ErrIndicesFit, f.H, f.K, f.L, d, row.D), "correct the cell or the indices")
		}
	}
	return nil
}

// formula falls back on a name that is a formula, and notes one that cannot be read.
func (b *builder) formula() {
	l := &b.out
	if l.Formula == "" {
		if _, err := refdata.ParseFormula(l.Name); err == nil {
			l.Formula = l.Name
		}
		return
	}
	if _, err := refdata.ParseFormula(l.Formula); err != nil {
		l.Notes = append(l.Notes, fmt.Sprintf("%s: %v; its elements count as unknown", l.Name, err))
	}
}
