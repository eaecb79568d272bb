package structure

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"phasetally/refdata/element"
	"phasetally/xrd"
)

// A term is an element of a formula with its number of atoms.
type term struct {
	element *element.Element
	count   float64
}

// parseFormula reads "Al2 O3", "Ca(OH)2", "Nb0.367Ti0.633"; charges and dots of hydrates are not understood. It reports false for
// anything that is no formula.
func parseFormula(s string) ([]term, bool) {
	if len(s) > 500 {
		return nil, false
	}
	p := formulaParser{rest: strings.NewReplacer("'", "", "[", "(", "]", ")").Replace(s)}
	terms, ok := p.group(0)
	if !ok || p.rest != "" || len(terms) == 0 {
		return nil, false
	}
	return merged(terms), true
}

type formulaParser struct{ rest string }

func (p *formulaParser) group(depth int) ([]term, bool) {
	var terms []term
	for {
		p.rest = strings.TrimLeft(p.rest, " \t,")
		switch {
		case p.rest == "" || p.rest[0] == ')':
			return terms, true
		case p.rest[0] == '(' && depth < 8:
			p.rest = p.rest[1:]
			inner, ok := p.group(depth + 1)
			if !ok || p.rest == "" {
				return nil, false
			}
			p.rest = p.rest[1:]
			times := p.number()
			for _, t := range inner {
				terms = append(terms, term{t.element, t.count * times})
			}
		default:
			e, ok := p.symbol()
			if !ok {
				return nil, false
			}
			terms = append(terms, term{e, p.number()})
		}
	}
}

// symbol takes a capital letter and the small one after it, if there is any.
func (p *formulaParser) symbol() (*element.Element, bool) {
	n := 1
	if len(p.rest) > 1 && p.rest[1] >= 'a' && p.rest[1] <= 'z' {
		n = 2
	}
	e, ok := element.Lookup(p.rest[:n])
	if !ok || p.rest[0] < 'A' || p.rest[0] > 'Z' {
		return nil, false
	}
	p.rest = p.rest[n:]
	return e, true
}

func (p *formulaParser) number() float64 {
	n := 0
	for n < len(p.rest) && strings.IndexByte("0123456789.", p.rest[n]) >= 0 {
		n++
	}
	v, err := strconv.ParseFloat(p.rest[:n], 64)
	p.rest = p.rest[n:]
	if err != nil {
		return 1
	}
	return v
}

// merged adds up repeated elements, in order of first appearance.
func merged(terms []term) []term {
	var sums []term
next:
	for _, t := range terms {
		for i := range sums {
			if sums[i].element == t.element {
				sums[i].count += t.count
				continue next
			}
		}
		sums = append(sums, t)
	}
	return sums
}

// formulaMass returns the mass of a formula unit, g/mol.
func formulaMass(terms []term) float64 {
	var m float64
	for _, t := range terms {
		m += t.count * t.element.Weight
	}
	return m
}

// name fills in formula and Z. The given formula is kept; without one the contents are divided by the greatest common divisor of the
// site multiplicities, or of the atom counts when these are whole numbers.
func (d *draft) name(s *Structure) {
	if terms, ok := parseFormula(d.formula); ok && formulaMass(terms) > 0 {
		s.Formula = strings.Join(strings.Fields(strings.Trim(d.formula, "'\"")), "")
		s.Z = tidy(s.mass() / formulaMass(terms))
		d.checkFormula(s, terms)
		return
	}
	s.Z = float64(s.divisor())
	var b strings.Builder
	for _, e := range s.elements() {
		b.WriteString(e.Symbol)
		if n := tidy(s.count(e) / s.Z); n != 1 {
			b.WriteString(strconv.FormatFloat(math.Round(n*1000)/1000, 'f', -1, 64))
		}
	}
	s.Formula = b.String()
}

// tidy rounds what is whole within 0.1 %.
func tidy(x float64) float64 {
	if n := math.Round(x); n > 0 && math.Abs(x-n) < 1e-3*n {
		return n
	}
	return x
}

func (s *Structure) divisor() int {
	all := 0
	for _, e := range s.elements() {
		n := s.count(e)
		if whole := tidy(n); whole != math.Round(whole) {
			all = 0
			break
		}
		all = gcd(all, int(math.Round(n)))
	}
	if all > 0 {
		return all
	}
	for _, site := range s.Sites {
		all = gcd(all, site.Multiplicity)
	}
	return max(1, all)
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// checkFormula warns when the cell holds other proportions than the formula, hydrogen aside, or another number of units than stated.
func (d *draft) checkFormula(s *Structure, terms []term) {
	off, which := s.formulaDeviation(terms)
	if off > 0.05 {
		s.caution("structure-formula", xrd.Warn,
			fmt.Sprintf("The atoms do not make up the formula %s: %s is off by %.0f %%.", s.Formula, which, 100*off),
			"Check occupancies, symmetry, and that every atom is listed.", map[string]any{"element": which, "relative_deviation": off})
		return
	}
	if d.z > 0 && math.Abs(s.Z/d.z-1) > 0.05 {
		s.caution("structure-z", xrd.Warn, fmt.Sprintf("The cell holds %.3g formula units, the file says %g.", s.Z, d.z),
			"Check symmetry, origin and occupancies.", map[string]any{"z": s.Z, "z_stated": d.z})
	}
}

// formulaDeviation returns the largest relative deviation of an element's count from the formula, hydrogen aside.
func (s *Structure) formulaDeviation(terms []term) (largest float64, which string) {
	var have, want float64
	for _, t := range terms {
		if t.element.Z > 1 {
			have += s.count(t.element)
			want += t.count
		}
	}
	if !(want > 0) {
		return 0, ""
	}
	for _, t := range terms {
		if t.element.Z == 1 || t.count == 0 {
			continue
		}
		if !(have > 0) {
			return 1, t.element.Symbol
		}
		if off := math.Abs(s.count(t.element)/have/(t.count/want) - 1); off > largest {
			largest, which = off, t.element.Symbol
		}
	}
	for _, e := range s.elements() {
		if e.Z > 1 && !hasTerm(terms, e) {
			return 1, e.Symbol // not in the formula at all
		}
	}
	return largest, which
}

func hasTerm(terms []term, e *element.Element) bool {
	for _, t := range terms {
		if t.element == e {
			return true
		}
	}
	return false
}
