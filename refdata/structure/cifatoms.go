package structure

import (
	"fmt"
	"math"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
	"phasetally/xrd/cif"
)

func (b *cifReader) warn(code, text, remedy string, evidence map[string]any) {
	b.cautions = append(b.cautions, xrd.Caution{Code: code, Severity: xrd.SeverityCaution, Text: text, Remedy: remedy, Evidence: evidence})
}

// atomColumns are the columns of the atom loop, nil where there is none.
type atomColumns struct {
	label, symbol, occupancy []cif.Value
	x                        [3][]cif.Value
	b, u                     []cif.Value
}

func (b *cifReader) readAtoms() error {
	c := atomColumns{
		label: b.Column("_atom_site_label"), symbol: b.Column("_atom_site_type_symbol"), occupancy: b.Column("_atom_site_occupancy"),
		x: [3][]cif.Value{b.Column("_atom_site_fract_x"), b.Column("_atom_site_fract_y"), b.Column("_atom_site_fract_z")},
		b: b.Column("_atom_site_B_iso_or_equiv"), u: b.Column("_atom_site_U_iso_or_equiv"),
	}
	n := len(c.x[0])
	if n == 0 {
		return b.fail(0, fmt.Errorf("%w: no _atom_site_fract_x", ErrNoAtoms), "give a loop of atoms with fractional coordinates")
	}
	for _, column := range [][]cif.Value{c.label, c.symbol, c.occupancy, c.x[1], c.x[2], c.b, c.u} {
		if column != nil && len(column) != n || c.x[1] == nil || c.x[2] == nil || c.label == nil && c.symbol == nil {
			return b.fail(c.x[0][0].Line, fmt.Errorf("%w: the atom loop lacks y, z, or labels", ErrNoAtoms),
				"give label or type symbol and three coordinates of every atom in one loop")
		}
	}
	tensors, err := b.tensors()
	if err != nil {
		return err
	}
	var placeless []string
	flags := b.Column("_atom_site_calc_flag")
	for i := range n {
		if i < len(flags) && strings.EqualFold(flags[i].Text, "dum") {
			continue // a dummy, as the core dictionary has it
		}
		a, ok, err := b.atom(&c, i, tensors)
		switch {
		case err != nil:
			return err
		case !ok:
			placeless = append(placeless, a.label)
		default:
			b.atoms = append(b.atoms, a)
		}
	}
	if placeless != nil {
		b.warn("structure-atoms-without-place", fmt.Sprintf("Left out, as they have no coordinates: %s.", listed(placeless)),
			"Complete the coordinates.", map[string]any{"sites": placeless})
	}
	return nil
}

// atom reads a row. It reports false for an atom without coordinates.
func (b *cifReader) atom(c *atomColumns, i int, tensors map[string]tensor) (a draftAtom, ok bool, err error) {
	a = draftAtom{line: c.x[0][i].Line, occupancy: 1}
	if c.label != nil {
		a.label = c.label[i].Text
	}
	if a.element, err = b.elementOf(c, i, a.label); err != nil {
		return a, false, b.fail(a.line, err, "give a chemical symbol in _atom_site_type_symbol")
	}
	if a.label == "" {
		a.label = a.element.Symbol
	}
	for k := range a.x {
		v := c.x[k][i]
		if !v.Given() {
			return a, false, nil
		}
		if a.x[k], _, err = v.Number(); err != nil {
			return a, false, b.fail(v.Line, fmt.Errorf("coordinate of %s: %w", a.label, err), "give fractions of the cell edges")
		}
	}
	if c.occupancy != nil && c.occupancy[i].Given() {
		if a.occupancy, _, err = c.occupancy[i].Number(); err != nil {
			return a, false, b.fail(c.occupancy[i].Line, fmt.Errorf("occupancy of %s: %w", a.label, err), "give a number from 0 to 1")
		}
	}
	a.b, err = b.displacement(c, i, a.label, tensors)
	return a, err == nil, err
}

// elementOf reads the type symbol, else the label.
func (b *cifReader) elementOf(c *atomColumns, i int, label string) (*element.Element, error) {
	if c.symbol != nil && c.symbol[i].Given() {
		text := strings.TrimSpace(c.symbol[i].Text)
		if e, ok := element.Lookup(letters(text)); ok {
			return e, nil
		}
		return nil, fmt.Errorf("%w %q", ErrElement, text)
	}
	if e, ok := fromLabel(label, b.formula); ok {
		return e, nil
	}
	return nil, fmt.Errorf("%w in label %q", ErrElement, label)
}

// letters returns the leading letters: Al of Al3+.
func letters(s string) string {
	n := 0
	for n < len(s) && (s[n]|0x20 >= 'a' && s[n]|0x20 <= 'z') {
		n++
	}
	return s[:n]
}

// fromLabel finds the element in a label such as Al1, O2A, OW1, CU1: two letters that are an element when the second is small or the
// formula has it or the first alone is none, else one. Water (Wat, Ow) is its oxygen.
func fromLabel(label, formula string) (*element.Element, bool) {
	word := letters(label)
	if strings.EqualFold(word, "Wat") {
		return element.Lookup("O")
	}
	if len(word) > 1 {
		two, ok := element.Lookup(word[:2])
		small := word[1] >= 'a'
		if ok && (small || inFormula(two, formula) || len(word) == 2 && !inFormulaSymbol(word[:1], formula)) {
			return two, true
		}
	}
	if word == "" {
		return nil, false
	}
	return element.Lookup(word[:1])
}

func inFormula(e *element.Element, formula string) bool {
	f, err := refdata.ParseFormula(formula)
	return err == nil && hasTerm(f, e)
}

func inFormulaSymbol(symbol, formula string) bool {
	e, ok := element.Lookup(symbol)
	return ok && inFormula(e, formula)
}

// eightPi2 is B/U.
const eightPi2 = 8 * math.Pi * math.Pi

// displacement returns B of a row: as given, from U, from the anisotropic ones, or the default.
func (b *cifReader) displacement(c *atomColumns, i int, label string, tensors map[string]tensor) (float64, error) {
	for _, from := range []struct {
		column []cif.Value
		factor float64
	}{{c.b, 1}, {c.u, eightPi2}} {
		if from.column == nil || !from.column[i].Given() {
			continue
		}
		v, _, err := from.column[i].Number()
		if err != nil || !(v >= 0) {
			if err == nil {
				err = fmt.Errorf("%w: %g", ErrBValue, v)
			}
			return 0, b.fail(from.column[i].Line, fmt.Errorf("displacement of %s: %w", label, err), "give B or U in Å², not negative, or ?")
		}
		return v * from.factor, nil
	}
	if t, ok := tensors[label]; ok {
		v := t.equivalent(b.cell)
		if !(v >= 0) {
			return 0, b.fail(t.line, fmt.Errorf("%w: mean of the anisotropic ones of %s is %.3g Å²", ErrBValue, label, v), "correct the tensor")
		}
		return v, nil
	}
	b.defaultB = append(b.defaultB, label)
	return DefaultB, nil
}
