package refdata

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasetally/refdata/element"
)

// ErrFormula says that a text is no chemical formula with fixed amounts; test with errors.Is.
var ErrFormula = errors.New("not a chemical formula")

// A Formula is the atoms of one formula unit, each element once, in the order in which the text names them.
type Formula []Amount

// An Amount is how many atoms of an element there are in a formula unit.
type Amount struct {
	Element *element.Element // of the tables
	Atoms   float64          // in a formula unit; need not be whole
}

// Limits of what is read: longer or deeper texts are no formulae.
const (
	maxFormulaLength = 300
	maxFormulaDepth  = 8
	maxAtoms         = 1e6
)

// ParseFormula reads "Cu6Sn5", "CaMg(CO3)2", "Fe0.942O", "Ca C O3", "CaSO4·2H2O" and "CaSO4(H2O)2", with round, square
// or curly brackets and subscript digits. A dot before a digit is a decimal point, never the sign between a salt and
// its water: for that write · or *. Amounts such as x or 1-x are ErrFormula.
func ParseFormula(text string) (Formula, error) {
	p := formulaParser{rest: plainFormula(text)}
	if len(p.rest) > maxFormulaLength {
		return nil, fmt.Errorf("%w: %d characters are too many", ErrFormula, len(p.rest))
	}
	var sum Formula
	for {
		factor := p.number(1)
		part, err := p.group(0)
		if err != nil {
			return nil, fmt.Errorf("%w: %q: %w", ErrFormula, text, err)
		}
		sum = sum.add(part, factor)
		if !strings.HasPrefix(p.rest, "*") {
			break
		}
		p.rest = p.rest[1:]
	}
	for _, a := range sum {
		if !(a.Atoms > 0 && a.Atoms <= maxAtoms) {
			return nil, fmt.Errorf("%w: %q: %g atoms of %s", ErrFormula, text, a.Atoms, a.Element.Symbol)
		}
	}
	return sum, nil
}

// plainFormula turns the typographer's signs into ASCII and drops what only separates.
var plainFormula = strings.NewReplacer("₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7", "₈", "8",
	"₉", "9", "·", "*", "•", "*", "∙", "*", "⋅", "*", "[", "(", "{", "(", "]", ")", "}", ")", " ", "", "_", "", "'", "").Replace

type formulaParser struct{ rest string }

// group reads symbols, brackets and their amounts up to the closing bracket, a * or the end.
func (p *formulaParser) group(depth int) (Formula, error) {
	var sum Formula
	for p.rest != "" && p.rest[0] != ')' && p.rest[0] != '*' {
		part, err := p.unit(depth)
		if err != nil {
			return nil, err
		}
		sum = sum.add(part, p.number(1))
	}
	switch {
	case len(sum) == 0:
		return nil, errors.New("an element is missing")
	case depth == 0 && strings.HasPrefix(p.rest, ")"):
		return nil, errors.New("a bracket closes that was not opened")
	}
	return sum, nil
}

// unit reads one symbol or one bracket, without its amount.
func (p *formulaParser) unit(depth int) (Formula, error) {
	if p.rest[0] != '(' {
		return p.symbol()
	}
	if depth == maxFormulaDepth {
		return nil, errors.New("brackets are nested too deeply")
	}
	p.rest = p.rest[1:]
	sum, err := p.group(depth + 1)
	if err == nil && !strings.HasPrefix(p.rest, ")") {
		err = errors.New("a bracket does not close")
	}
	p.rest = strings.TrimPrefix(p.rest, ")")
	return sum, err
}

func (p *formulaParser) symbol() (Formula, error) {
	n := 1
	for n < len(p.rest) && p.rest[n] >= 'a' && p.rest[n] <= 'z' {
		n++
	}
	symbol := p.rest[:n]
	e, ok := element.Lookup(symbol)
	if !ok || symbol[0] < 'A' || symbol[0] > 'Z' {
		return nil, fmt.Errorf("%q is no element", symbol)
	}
	p.rest = p.rest[n:]
	return Formula{{e, 1}}, nil
}

// number reads an amount; none is the given one. A nonsensical amount shows later, as a count out of range.
func (p *formulaParser) number(none float64) float64 {
	n := 0
	for n < len(p.rest) && (p.rest[n] >= '0' && p.rest[n] <= '9' || p.rest[n] == '.') {
		n++
	}
	if n == 0 {
		return none
	}
	v, err := strconv.ParseFloat(p.rest[:n], 64)
	if err != nil {
		v = -1
	}
	p.rest = p.rest[n:]
	return v
}

// add returns f plus factor times g.
func (f Formula) add(g Formula, factor float64) Formula {
	for _, b := range g {
		known := false
		for i := range f {
			if f[i].Element == b.Element {
				f[i].Atoms += factor * b.Atoms
				known = true
			}
		}
		if !known {
			f = append(f, Amount{b.Element, factor * b.Atoms})
		}
	}
	return f
}

// Elements returns the set of elements.
func (f Formula) Elements() ElementSet {
	var s ElementSet
	for _, a := range f {
		s = s.With(a.Element.Z)
	}
	return s
}

// Mass returns the mass of a formula unit, g/mol.
func (f Formula) Mass() float64 {
	sum := 0.0
	for _, a := range f {
		sum += a.Atoms * a.Element.Weight
	}
	return sum
}

// Composition returns the mass fractions of the elements; they add up to 1. It is nil when an element has no atomic
// weight.
func (f Formula) Composition() []ElementShare {
	mass := f.Mass()
	shares := make([]ElementShare, len(f))
	for i, a := range f {
		if !(a.Element.Weight > 0) {
			return nil
		}
		shares[i] = ElementShare{a.Element.Symbol, a.Atoms * a.Element.Weight / mass}
	}
	return shares
}

// Like tells whether two formulae have the same elements in the same atomic fractions within a tolerance.
func (f Formula) Like(g Formula, tolerance float64) bool {
	if f.Elements() != g.Elements() {
		return false
	}
	atoms := func(f Formula) (sum float64) {
		for _, t := range f {
			sum += t.Atoms
		}
		return sum
	}
	nf, ng := atoms(f), atoms(g)
	for _, t := range f {
		for _, u := range g {
			if u.Element == t.Element && !(math.Abs(t.Atoms/nf-u.Atoms/ng) <= tolerance) {
				return false
			}
		}
	}
	return true
}
