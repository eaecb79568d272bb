package structure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// name fills in formula and Z. The given formula is kept; without one the contents are divided by the greatest common divisor of the
// site multiplicities, or of the atom counts when these are whole numbers.
func (d *draft) name(s *Structure) {
	if f, err := refdata.ParseFormula(d.formula); err == nil {
		s.Formula = strings.Join(strings.Fields(strings.Trim(d.formula, "'\"")), "")
		if off, _ := s.formulaDeviation(f); off <= formulaTolerance {
			s.addHydrogen(f)
		}
		s.Z = tidy(s.mass() / f.Mass())
		d.checkFormula(s, f)
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

// formulaTolerance is how far an element's share of the atoms may be from the formula's, relative: rounded occupancies.
const formulaTolerance = 0.05

// checkFormula warns when the cell holds other proportions than the formula, or another number of units than stated.
func (d *draft) checkFormula(s *Structure, f refdata.Formula) {
	off, which := s.formulaDeviation(f)
	if off > formulaTolerance {
		s.caution("structure-formula", xrd.SeverityCaution,
			fmt.Sprintf("The atoms do not make up the formula %s: %s is off by %.0f %%.", s.Formula, which, 100*off),
			"Check occupancies, symmetry, and that every atom is listed.", map[string]any{"element": which, "relative_deviation": off})
		return
	}
	if d.z > 0 && math.Abs(s.Z/d.z-1) > 0.05 {
		s.caution("structure-z", xrd.SeverityCaution, fmt.Sprintf("The cell holds %.3g formula units, the file says %g.", s.Z, d.z),
			"Check symmetry, origin and occupancies.", map[string]any{"z": s.Z, "z_stated": d.z})
	}
}

// formulaDeviation returns the largest relative deviation of an element's count from the formula. Hydrogen may be missing, as
// it is from most lists of atoms, but not be too many.
func (s *Structure) formulaDeviation(f refdata.Formula) (largest float64, which string) {
	var have, want float64
	for _, t := range f {
		if t.Element.Z > 1 {
			have += s.count(t.Element)
			want += t.Atoms
		}
	}
	if !(want > 0) {
		return 0, ""
	}
	for _, t := range f {
		if t.Element.Z == 1 || t.Atoms == 0 {
			continue
		}
		if !(have > 0) {
			return 1, t.Element.Symbol
		}
		if off := math.Abs(s.count(t.Element)/have/(t.Atoms/want) - 1); off > largest {
			largest, which = off, t.Element.Symbol
		}
	}
	for _, e := range s.elements() {
		if !hasTerm(f, e) {
			return 1, e.Symbol // not in the formula at all
		}
	}
	for _, t := range f {
		if off := s.count(t.Element)/have/(t.Atoms/want) - 1; t.Element.Z == 1 && off > math.Max(largest, hydrogenTolerance) {
			largest, which = off, t.Element.Symbol
		}
	}
	return largest, which
}

func hasTerm(f refdata.Formula, e *element.Element) bool {
	return slices.ContainsFunc(f, func(t refdata.Amount) bool { return t.Element == e })
}
