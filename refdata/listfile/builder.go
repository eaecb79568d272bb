package listfile

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasetally/refdata"
	"phasetally/xrd"
)

// Errors of a list's rows; test with errors.Is.
var (
	ErrNumber     = errors.New("not a number in the range allowed")
	ErrConflict   = errors.New("rows of one phase contradict each other")
	ErrIndices    = errors.New("h, k and l must be three whole numbers, not all zero")
	ErrIndicesFit = errors.New("d does not fit h k l and the cell")
	ErrTwice      = errors.New("listed twice")
	ErrChoice     = errors.New("not one of the words allowed")
)

// Spacings outside this range, Å, are slips of the pen.
const minD, maxD = 0.1, 1000

// maxIndex keeps products of indices far from overflow.
const maxIndex = 1000

// A builder collects the rows of one phase. What belongs to the phase is kept as text with the line it came from.
type builder struct {
	out   List
	texts map[string]text
	rows  []Row
}

type text struct {
	value string
	line  int
}

// perPhase are the columns that must not differ between the rows of a phase.
var perPhase = []string{"formula", "radiation", "monochromator", "rir", "rir_u", "rir_origin", "rir_basis", "rir_radiation", "density",
	"density_origin", "space_group", "a", "b", "c", "alpha", "beta", "gamma", "z", "mass_absorption", "preparation", "soluble",
	"confidence", "source", "cautions"}

func newBuilder(id, name string) *builder {
	if name == "" {
		name = id
	}
	return &builder{out: List{ID: id, Name: name}, texts: map[string]text{}}
}

// add reads one row.
func (b *builder) add(t *table, cells []string) error {
	for _, column := range perPhase {
		value := t.cell(cells, column)
		old, given := b.texts[column]
		switch {
		case value == "":
		case !given:
			b.texts[column] = text{value, t.line}
		case !t.same(old.value, value):
			return t.refuse(fmt.Errorf("%w: %s is %.40q here and %.40q in line %d", ErrConflict, column, value, old.value, old.line),
				"give each phase one "+column)
		}
	}
	row := Row{Line: t.line}
	var err error
	if row.D, err = b.spacing(t, cells); err != nil {
		return err
	}
	if row.Intensity, err = t.number(cells, "intensity", true, 0, 1e15); err != nil {
		return err
	}
	if row.Families, err = t.families(cells); err != nil {
		return err
	}
	b.rows = append(b.rows, row)
	return nil
}

// spacing takes d, or computes it from the angle.
func (b *builder) spacing(t *table, cells []string) (float64, error) {
	if !t.columns.has("d") || t.cell(cells, "d") == "" && t.cell(cells, "two_theta") != "" && b.texts["radiation"].value != "" {
		angle, err := t.number(cells, "two_theta", true, 1e-3, 180)
		if err != nil {
			return 0, err
		}
		radiation, err := xrd.ParseRadiation(t.wavelength(b.texts["radiation"].value))
		if err != nil {
			return 0, t.refuse(err, "give the radiation of the angles in the first row of each phase")
		}
		d, ok := xrd.DSpacing(angle, radiation.KAlpha1)
		if !ok || !(d >= minD && d <= maxD) {
			return 0, t.refuse(fmt.Errorf("%w: two_theta %g", ErrNumber, angle), "give an angle of a real line")
		}
		return d, nil
	}
	return t.number(cells, "d", true, minD, maxD)
}

// number reads a cell that must lie between lo and hi; an empty one is 0 unless it is required.
func (t *table) number(cells []string, column string, required bool, lo, hi float64) (float64, error) {
	s := t.cell(cells, column)
	if s == "" && !required {
		return 0, nil
	}
	return t.parse(s, column, lo, hi)
}

func (t *table) parse(s, column string, lo, hi float64) (float64, error) {
	v, err := strconv.ParseFloat(t.point(s), 64)
	if err != nil || !(v >= lo && v <= hi) {
		return 0, t.refuse(fmt.Errorf("%w: %s is %.40q", ErrNumber, column, s), fmt.Sprintf("give a number from %g to %g", lo, hi))
	}
	return v, nil
}

// point turns the one decimal comma that a number may have into a point, and the typographer's minus into a hyphen.
func (t *table) point(s string) string {
	s = strings.Replace(s, "−", "-", 1)
	if strings.Count(s, ",") == 1 && !strings.Contains(s, ".") {
		return strings.Replace(s, ",", ".", 1)
	}
	return s
}

// same compares as numbers where both are.
func (t *table) same(x, y string) bool {
	if x == y {
		return true
	}
	a, errA := strconv.ParseFloat(t.point(x), 64)
	b, errB := strconv.ParseFloat(t.point(y), 64)
	return errA == nil && errB == nil && a == b
}

// families reads h, k, l, multiplicity, f2 and the further families.
func (t *table) families(cells []string) ([]refdata.Family, error) {
	fields := []string{t.cell(cells, "h"), t.cell(cells, "k"), t.cell(cells, "l"), t.cell(cells, "multiplicity"), t.cell(cells, "f2")}
	if fields[0]+fields[1]+fields[2] == "" {
		return nil, nil
	}
	first, err := t.family(fields)
	if err != nil {
		return nil, err
	}
	all := []refdata.Family{first}
	for _, s := range strings.Split(t.cell(cells, "families"), ";") {
		if strings.TrimSpace(s) == "" {
			continue
		}
		more, err := t.family(strings.Fields(s))
		if err != nil {
			return nil, err
		}
		all = append(all, more)
	}
	return all, nil
}

// family reads h, k, l and, if there, multiplicity and |F|².
func (t *table) family(fields []string) (refdata.Family, error) {
	var n [4]int
	if len(fields) < 3 || len(fields) > 5 {
		return refdata.Family{}, t.refuse(ErrIndices, `write further families as "h k l multiplicity f2; …"`)
	}
	for i, s := range fields[:min(4, len(fields))] {
		if i == 3 && s == "" {
			continue
		}
		v, err := strconv.ParseFloat(t.point(s), 64)
		if err != nil || v != math.Trunc(v) || math.Abs(v) > maxIndex || i == 3 && v < 0 {
			return refdata.Family{}, t.refuse(fmt.Errorf("%w: %.40q", ErrIndices, strings.Join(fields, " ")), "give all three or none")
		}
		n[i] = int(v)
	}
	if n[0] == 0 && n[1] == 0 && n[2] == 0 {
		return refdata.Family{}, t.refuse(ErrIndices, "give all three or none")
	}
	f := refdata.Family{H: n[0], K: n[1], L: n[2], Multiplicity: n[3]}
	var err error
	if len(fields) == 5 && fields[4] != "" {
		f.F2, err = t.parse(fields[4], "f2", 0, 1e12)
	}
	return f, err
}
