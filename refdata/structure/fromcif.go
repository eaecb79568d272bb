package structure

import (
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strings"
	"unicode"

	"phasetally/refdata"
	"phasetally/xrd/cif"
)

// Read reads a CIF and makes a structure of every block that has atoms. name is for messages, and its stem the id; blocks after the
// first with atoms add their own name to it. The error is an *xrd.SyntaxError, or that of the reader.
func Read(r io.Reader, name string) ([]*Structure, error) {
	doc, err := cif.Read(r, name)
	if err != nil {
		return nil, err
	}
	var list []*Structure
	for i := range doc.Blocks {
		block := &doc.Blocks[i]
		if block.Column("_atom_site_fract_x") == nil {
			continue
		}
		s, err := FromCIF(block, name)
		if err != nil {
			return nil, err
		}
		if len(list) > 0 {
			s.ID += "-" + block.Name
		}
		list = append(list, s)
	}
	if len(list) == 0 {
		return nil, (&draft{file: name}).fail(0, fmt.Errorf("%w: no block has _atom_site_fract_x", ErrNoAtoms), "give a CIF with atomic coordinates")
	}
	return list, nil
}

// FromCIF makes a structure of one block; file is for messages, and its stem the id. Symmetry comes from the operator loop, else the Hall
// symbol, else the Hermann–Mauguin symbol, else the number of the space group. The error is an *xrd.SyntaxError.
func FromCIF(block *cif.Block, file string) (*Structure, error) {
	b := cifReader{Block: block, draft: &draft{file: file, line: block.Line}}
	base := path.Base(strings.ReplaceAll(file, `\`, "/"))
	b.about = Structure{ID: strings.TrimSuffix(base, path.Ext(base)), Source: b.source(file)}
	b.about.Name = b.Text("_chemical_name_mineral", "_chemical_name_common", "_chemical_name_systematic")
	b.formula = b.Text("_chemical_formula_sum", "_chemical_formula_structural", "_chemical_formula_iupac", "_chemical_formula_moiety")
	b.nameless()
	b.about.SolidSolution = strings.EqualFold(b.Text(SolidSolutionTag), "yes")
	b.z = b.optional("_cell_formula_units_Z")
	b.density = b.optional("_exptl_crystal_density_diffrn")
	for _, read := range []func() error{b.readCell, b.readSymmetry, b.readAtoms} {
		if err := read(); err != nil {
			return nil, err
		}
	}
	s, err := b.finish()
	if err != nil {
		return nil, err
	}
	if rho := s.Density(); !(rho <= refdata.MaxDensity) {
		return nil, b.fail(b.cellLine, fmt.Errorf("%w: %.4g g/cm³ from the atoms and the cell; osmium, the densest of all, has 22.6", ErrDensity, rho),
			"correct the cell, the symmetry or the occupancies")
	}
	return s, nil
}

// SolidSolutionTag is our own item of a CIF: "yes" says that the phase forms solid solutions, so that its cell may depart
// from that of the file by several per cent. Sites that metals share say so, too.
const SolidSolutionTag = "_phasetally_solid_solution"

// maxName is how many letters of a name are kept: more is an abstract.
const maxName = 120

// nameless sees to it that a phase can be told from others: a name or an id without a letter or digit, such as '?', gives
// way to the formula, else to the file.
func (b *cifReader) nameless() {
	speaks := func(s string) bool {
		return strings.IndexFunc(s, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) >= 0
	}
	a, formula := &b.about, strings.Join(strings.Fields(strings.Trim(b.formula, "'\"")), "")
	if !speaks(a.ID) {
		if a.ID = "phase"; speaks(formula) {
			a.ID = formula
		}
	}
	if a.Name = strings.Join(strings.Fields(a.Name), " "); !speaks(a.Name) {
		a.Name = a.ID
	}
	for _, s := range []*string{&a.Name, &a.ID} {
		if letters := []rune(*s); len(letters) > maxName {
			*s = string(letters[:maxName-1]) + "…"
		}
	}
}

// A cifReader fills a draft from a block.
type cifReader struct {
	*cif.Block
	*draft
}

// optional returns a number, 0 when it is not given or none.
func (b *cifReader) optional(tags ...string) float64 {
	if v, ok := b.Value(tags...); ok {
		if f, _, err := v.Number(); err == nil {
			return f
		}
	}
	return 0
}

// source is the publication, or the file when the block names none.
func (b *cifReader) source(file string) string {
	var parts []string
	for _, tag := range []string{"_journal_name_full", "_journal_volume", "_journal_year", "_journal_page_first"} {
		if text := b.Text(tag); text != "" {
			parts = append(parts, strings.Join(strings.Fields(text), " "))
		}
	}
	if len(parts) < 2 {
		return file
	}
	return strings.Join(parts, ", ")
}

func (b *cifReader) readCell() error {
	c := &b.cell
	for _, item := range []struct {
		to     *float64
		tag    string
		preset float64
	}{
		{&c.A, "_cell_length_a", 0}, {&c.B, "_cell_length_b", 0}, {&c.C, "_cell_length_c", 0},
		{&c.Alpha, "_cell_angle_alpha", 90}, {&c.Beta, "_cell_angle_beta", 90}, {&c.Gamma, "_cell_angle_gamma", 90},
	} {
		v, ok := b.Value(item.tag)
		if !ok {
			if item.preset == 0 {
				return b.fail(0, fmt.Errorf("%w: %s is missing", ErrNoCell, item.tag), "give all six cell constants")
			}
			*item.to = item.preset // the CIF core dictionary's default
			continue
		}
		f, _, err := v.Number()
		if err != nil {
			return b.fail(v.Line, fmt.Errorf("%s: %w", item.tag, err), "give a number in Å or degrees")
		}
		*item.to, b.cellLine = f, v.Line
		if err := alone(item.preset == 0, f).Check(); err != nil {
			return b.fail(v.Line, err, cellFix)
		}
	}
	return nil
}

// alone returns a cell that is possible but for one edge or angle, so that an error is reported where that one stands.
func alone(edge bool, value float64) refdata.Cell {
	if edge {
		return refdata.Cell{A: value, B: value, C: value, Alpha: 90, Beta: 90, Gamma: 90}
	}
	return refdata.Cell{A: 5, B: 5, C: 5, Alpha: value, Beta: 90, Gamma: 90}
}

var (
	operatorTags = []string{"_space_group_symop_operation_xyz", "_symmetry_equiv_pos_as_xyz"}
	hallTags     = []string{"_space_group_name_Hall", "_symmetry_space_group_name_Hall"}
	symbolTags   = []string{"_space_group_name_H-M_alt", "_symmetry_space_group_name_H-M", "_space_group_name_H-M_full", "_space_group_name_H-M_ref"}
	numberTags   = []string{"_space_group_IT_number", "_symmetry_Int_Tables_number"}
)

func (b *cifReader) readSymmetry() error {
	symbol, hasSymbol := b.Value(symbolTags...)
	if ops := b.Column(operatorTags...); len(ops) > 0 && ops[0].Given() {
		return b.operatorLoop(ops, strings.Trim(symbol.Text, " \n\t"))
	}
	if hall, ok := b.Value(hallTags...); ok {
		g, err := hallGroup(hall.Text)
		if err == nil {
			b.symmetries = []symmetry{{hallName(hall.Text), g}}
			return nil
		}
		if !hasSymbol {
			return b.fail(hall.Line, err, "correct the Hall symbol, or give the operators")
		}
	}
	var found []Setting
	var err error
	number, hasNumber := b.Value(numberTags...)
	line := symbol.Line
	if hasSymbol {
		found, err = FindSettings(symbol.Text, b.cell)
	}
	if found == nil && hasNumber {
		if n, _, bad := number.Number(); bad == nil && n == math.Trunc(n) && n > 0 && n < 231 {
			found, err = StandardSettings(int(n), b.cell)
		} else if !hasSymbol {
			line, err = number.Line, fmt.Errorf("%w: number %s", ErrSpaceGroup, number.Text)
		}
	}
	switch {
	case err != nil:
		return b.fail(line, err, "write it as International Tables do, or give the operators in a loop _space_group_symop_operation_xyz")
	case found == nil:
		return b.fail(0, ErrNoSymmetry, "give the operators in a loop _space_group_symop_operation_xyz; of a crystal without symmetry it is 'x,y,z'")
	}
	if hasSymbol {
		b.checkNumber(symbol.Text, found)
	}
	b.symmetries, err = readings(found, b.cell)
	return err
}

// operatorLoop takes the operators as they stand. A loop that is no complete group is completed with a caution.
func (b *cifReader) operatorLoop(ops []cif.Value, symbol string) error {
	if len(ops) > maxOrder {
		return b.fail(ops[maxOrder].Line, fmt.Errorf("%w: more than %d operators", ErrGroup, maxOrder), "give each operator once")
	}
	parsed := make([]Operator, len(ops))
	for i, v := range ops {
		op, err := ParseOperator(v.Text)
		if err != nil {
			return b.fail(v.Line, err, "write it as x,y,z with signs and fractions")
		}
		parsed[i] = op
	}
	g, err := generate(parsed)
	if err != nil {
		return b.fail(ops[0].Line, err, "correct or complete the operators")
	}
	if g.order() != len(ops) {
		b.warn("structure-operators", fmt.Sprintf("The %d operators listed are not those of a group, which has %d; the group was taken.", len(ops), g.order()),
			"List every operator once.", map[string]any{"listed": len(ops), "order": g.order()})
	}
	b.checkSymbol(symbol, g)
	name := strings.Join(strings.Fields(symbol), " ")
	if name == "" {
		name = nameOf(g)
	}
	b.symmetries = []symmetry{{name, g}}
	return nil
}

// checkSymbol warns when loop and symbol disagree: on the number of operators, a sign that centring was left out, or on what they are.
func (b *cifReader) checkSymbol(symbol string, g *group) {
	if symbol == "" {
		return
	}
	found, err := FindSettings(symbol, b.cell)
	if err != nil {
		return
	}
	b.checkNumber(symbol, found)
	if found[0].Order != g.order() {
		b.warn("structure-operators", fmt.Sprintf("%s has %d operators, the loop %d; the loop was taken.", symbol, found[0].Order, g.order()),
			"Check that the loop is complete, centring included.", map[string]any{"symbol": symbol, "symbol_order": found[0].Order, "order": g.order()})
		return
	}
	if !slices.ContainsFunc(found, func(s Setting) bool {
		named, err := hallGroup(s.Hall)
		return err != nil || named.same(g) || named.alike(g)
	}) {
		b.warn("structure-symmetry", fmt.Sprintf("The operators listed are not those of %s; they were taken.", strings.Join(strings.Fields(symbol), " ")),
			"Correct the symbol or the operators.", map[string]any{"symbol": symbol, "order": g.order()})
	}
}

// checkNumber warns when the symbol and the number of the space group are those of two groups.
func (b *cifReader) checkNumber(symbol string, found []Setting) {
	v, given := b.Value(numberTags...)
	n, _, err := v.Number()
	if !given || err != nil || len(found) == 0 || slices.ContainsFunc(found, func(s Setting) bool { return float64(s.Number) == n }) {
		return
	}
	b.warn("structure-symmetry", fmt.Sprintf("The space group is %s, which has the number %d, and the file says %g; the symbol, or the operators listed, were taken.",
		strings.Join(strings.Fields(symbol), " "), found[0].Number, n),
		"Correct the symbol or the number.", map[string]any{"symbol": symbol, "number": n, "number_of_symbol": found[0].Number})
}
