package structure

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// ErrHall says that a text is no Hall symbol; test with errors.Is.
var ErrHall = errors.New("not a Hall symbol")

// hallGroup returns the group of a Hall symbol such as "-R 3 2\"c" or "P 31 2 (0 0 4)": for each centring translation each point
// operator. Blanks may be underscores. It returns ErrHall or ErrGroup.
// Source: S. R. Hall, Acta Cryst. A37 (1981) 517; Int. Tables B 1.4 (from memory; all 559 settings are tested).
func hallGroup(symbol string) (*group, error) {
	if len(symbol) > 100 {
		return nil, fmt.Errorf("%w: too long", ErrHall)
	}
	text := strings.ReplaceAll(symbol, "_", " ")
	text, basis, hasBasis := strings.Cut(text, "(")
	words := strings.Fields(text)
	if len(words) == 0 {
		return nil, fmt.Errorf("%w: empty", ErrHall)
	}
	lattice, inversion := strings.CutPrefix(words[0], "-")
	if lattice == "" && len(words) > 1 { // "- P 2"
		words = words[1:]
		lattice = words[0]
	}
	generators, err := latticeTranslations(lattice)
	if err != nil {
		return nil, fmt.Errorf("%w in %q", err, symbol)
	}
	if inversion {
		generators = append(generators, Operator{R: negated(identity.R)})
	}
	var before rotation
	for i, word := range words[1:] {
		r, err := parseRotation(word, i, before)
		if err != nil {
			return nil, fmt.Errorf("%w in %q", err, symbol)
		}
		generators = append(generators, r.operator())
		before = r
	}
	if hasBasis {
		if generators, err = changeBasis(generators, strings.TrimSuffix(strings.TrimSpace(basis), ")")); err != nil {
			return nil, fmt.Errorf("%w in %q", err, symbol)
		}
	}
	return generate(generators)
}

// centrings are the translations of the lattice letters, in twelfths.
var centrings = map[string][][3]float64{
	"P": nil, "A": {{0, 6, 6}}, "B": {{6, 0, 6}}, "C": {{6, 6, 0}}, "I": {{6, 6, 6}}, "F": {{0, 6, 6}, {6, 0, 6}},
	"R": {{8, 4, 4}}, "S": {{4, 4, 8}}, "T": {{4, 8, 4}}, "H": {{8, 4, 0}},
}

func latticeTranslations(letter string) ([]Operator, error) {
	twelfths, ok := centrings[strings.ToUpper(letter)]
	if !ok {
		return nil, fmt.Errorf("%w: unknown lattice %q", ErrHall, letter)
	}
	var ops []Operator
	for _, t := range twelfths {
		ops = append(ops, Operator{identity.R, [3]float64{t[0] / 12, t[1] / 12, t[2] / 12}})
	}
	return ops, nil
}

// A rotation is one matrix symbol of a Hall symbol.
type rotation struct {
	improper bool
	order    int
	axis     byte // x, y, z; *: a + b + c; ' and ": the diagonals across about
	about    byte // the axis that a diagonal is perpendicular to
	shift    [3]float64
}

// rotations are the matrices of Int. Tables B table 1.4.2 by axis and order.
var rotations = map[string][9]int{
	"x2": {1, 0, 0, 0, -1, 0, 0, 0, -1}, "x3": {1, 0, 0, 0, 0, -1, 0, 1, -1}, "x4": {1, 0, 0, 0, 0, -1, 0, 1, 0}, "x6": {1, 0, 0, 0, 1, -1, 0, 1, 0},
	"y2": {-1, 0, 0, 0, 1, 0, 0, 0, -1}, "y3": {-1, 0, 1, 0, 1, 0, -1, 0, 0}, "y4": {0, 0, 1, 0, 1, 0, -1, 0, 0}, "y6": {0, 0, 1, 0, 1, 0, -1, 0, 1},
	"z2": {-1, 0, 0, 0, -1, 0, 0, 0, 1}, "z3": {0, -1, 0, 1, -1, 0, 0, 0, 1}, "z4": {0, -1, 0, 1, 0, 0, 0, 0, 1}, "z6": {1, -1, 0, 1, 0, 0, 0, 0, 1},
	"'x2": {-1, 0, 0, 0, 0, -1, 0, -1, 0}, "\"x2": {-1, 0, 0, 0, 0, 1, 0, 1, 0},
	"'y2": {0, 0, -1, 0, -1, 0, -1, 0, 0}, "\"y2": {0, 0, 1, 0, -1, 0, 1, 0, 0},
	"'z2": {0, -1, 0, -1, 0, 0, 0, 0, -1}, "\"z2": {0, 1, 0, 1, 0, 0, 0, 0, -1},
	"*3": {0, 0, 1, 1, 0, 0, 0, 1, 0},
}

func (r rotation) key() string {
	if r.axis == '\'' || r.axis == '"' {
		return fmt.Sprintf("%c%c%d", r.axis, r.about, r.order)
	}
	return fmt.Sprintf("%c%d", r.axis, r.order)
}

func (r rotation) operator() Operator {
	m := identity.R
	if r.order != 1 {
		m = rotations[r.key()]
	}
	if r.improper {
		m = negated(m)
	}
	return Operator{m, r.shift}.wrapped()
}

// parseRotation reads a matrix symbol: [-]N[axis][translations]; number is its place among them, before the one to its left.
func parseRotation(word string, number int, before rotation) (rotation, error) {
	r := rotation{about: 'z'}
	rest := strings.ToLower(strings.ReplaceAll(word, "''", "\""))
	rest, r.improper = strings.CutPrefix(rest, "-")
	if rest == "" || !strings.Contains("12346", rest[:1]) {
		return r, fmt.Errorf("%w: %q starts with no rotation", ErrHall, word)
	}
	r.order = int(rest[0] - '0')
	rest = rest[1:]
	if before.axis == 'x' || before.axis == 'y' {
		r.about = before.axis
	}
	r.axis = impliedAxis(r.order, number, before.order)
	screw := 0
	for _, c := range []byte(rest) {
		switch {
		case strings.IndexByte("xyz*'\"", c) >= 0:
			r.axis = c
		case strings.IndexByte("12345", c) >= 0 && int(c-'0') < r.order && screw == 0:
			screw = int(c - '0')
		default:
			t, ok := translations[c]
			if !ok {
				return r, fmt.Errorf("%w: %q in %q", ErrHall, c, word)
			}
			for i := range t {
				r.shift[i] += t[i]
			}
		}
	}
	if _, ok := rotations[r.key()]; r.order != 1 && !ok {
		return r, fmt.Errorf("%w: no rotation %d about %c in %q", ErrHall, r.order, r.axis, word)
	}
	if screw > 0 {
		i := strings.IndexByte("xyz", r.axis)
		if i < 0 {
			return r, fmt.Errorf("%w: no screw about a diagonal in %q", ErrHall, word)
		}
		r.shift[i] += float64(screw) / float64(r.order)
	}
	return r, nil
}

// impliedAxis is the axis of a matrix symbol that names none.
func impliedAxis(order, number, before int) byte {
	switch {
	case number == 1 && order == 2 && (before == 2 || before == 4):
		return 'x'
	case number == 1 && order == 2 && (before == 3 || before == 6):
		return '\''
	case number >= 2 && order == 3:
		return '*'
	}
	return 'z'
}

var translations = map[byte][3]float64{
	'a': {0.5, 0, 0}, 'b': {0, 0.5, 0}, 'c': {0, 0, 0.5}, 'n': {0.5, 0.5, 0.5},
	'u': {0.25, 0, 0}, 'v': {0, 0.25, 0}, 'w': {0, 0, 0.25}, 'd': {0.25, 0.25, 0.25},
}

// changeBasis applies "(v1 v2 v3)", a shift in twelfths, or "(x,y,z)", the new coordinates in terms of the old.
func changeBasis(ops []Operator, basis string) ([]Operator, error) {
	var v Operator
	if strings.Contains(basis, ",") {
		var err error
		if v, err = ParseOperator(basis); err != nil {
			return nil, fmt.Errorf("%w: %w", ErrHall, err)
		}
	} else {
		words := strings.Fields(basis)
		if len(words) != 3 {
			return nil, fmt.Errorf("%w: shift (%s)", ErrHall, basis)
		}
		v = identity
		for i, w := range words {
			n, err := strconv.Atoi(w)
			if err != nil || n < -1000 || n > 1000 {
				return nil, fmt.Errorf("%w: shift (%s)", ErrHall, basis)
			}
			v.T[i] = float64(n) / 12
		}
	}
	back := Operator{R: inverse(v.R)}
	minus := back.Apply(v.T)
	back.T = [3]float64{-minus[0], -minus[1], -minus[2]}
	changed := make([]Operator, len(ops))
	for i, op := range ops {
		changed[i] = v.after(op.after(back))
	}
	return changed, nil
}
