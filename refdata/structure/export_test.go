package structure

import (
	"phasetally/refdata"
	"phasetally/refdata/element"
)

// WithCromerLiberman returns the structure with the older dispersion table for every element, which the oracle uses.
func WithCromerLiberman(s *Structure) *Structure {
	c := *s
	c.dispersion = func(z int, wavelength float64) (fp, fpp float64, basis element.Basis) {
		return element.DispersionFrom(element.CromerLiberman, z, wavelength)
	}
	return &c
}

// F2 returns the mean |F|² of any reflection, 0 where centring extinguishes it.
func F2(s *Structure, h, k, l int, wavelength float64) float64 {
	if !s.group.centred(h, k, l) {
		return 0
	}
	list := []reflection{{h: h, k: k, l: l, multiplicity: 1, q2: s.reciprocal.Norm2(float64(h), float64(k), float64(l))}}
	if _, err := s.structureFactors(list, wavelength); err != nil {
		return -1
	}
	return list[0].f2
}

// WithoutDispersion returns the structure with f′ = f″ = 0, as some published calculations have it.
func WithoutDispersion(s *Structure) *Structure {
	c := *s
	c.dispersion = func(int, float64) (fp, fpp float64, basis element.Basis) { return 0, 0, element.Tabulated }
	return &c
}

// Averaged returns a cell made to obey the rotations of operators.
func Averaged(cell refdata.Cell, ops []Operator) refdata.Cell {
	g := &group{cosets: ops}
	averaged, _ := average(cell, g.laue())
	return averaged
}

// HallOperators returns all operators of a Hall symbol such as "-R 3 2\"c" or "P 31 2 (0 0 4)": for each centring translation each
// point operator. Blanks may be underscores. It returns ErrHall or ErrGroup.
// Source: S. R. Hall, Acta Cryst. A37 (1981) 517; Int. Tables B 1.4 (from memory; all 559 settings are tested).
func HallOperators(symbol string) ([]Operator, error) {
	g, err := hallGroup(symbol)
	if err != nil {
		return nil, err
	}
	return g.operators(), nil
}

// Record returns the structure as a record from which FromRecord makes the same again. Operators are listed only where the symbol does not say
// them.
func (s *Structure) Record() refdata.Record {
	r := refdata.Record{
		ID: s.ID, Name: s.Name, Formula: s.Formula, SpaceGroup: s.SpaceGroup, Cell: s.Cell,
		Preparation: s.Preparation, SolidSolution: s.SolidSolution, Source: s.Source, Confidence: s.Confidence,
	}
	if said, err := recordSymmetry(r); err != nil || len(said) != 1 || !said[0].group.same(s.group) {
		for _, op := range s.Operators() {
			r.Operators = append(r.Operators, op.String())
		}
	}
	for _, site := range s.Sites {
		x := site.Position
		r.Atoms = append(r.Atoms, refdata.Atom{
			Label: site.Label, Element: site.Element.Symbol, X: x[0], Y: x[1], Z: x[2], Occupancy: site.Occupancy, B: site.B,
		})
	}
	return r
}

// Settings returns all settings known.
func Settings() []Setting { return append([]Setting(nil), settings().rows...) }

// Alike reports whether the groups of two lists of operators are one group but for its origin, as far as reflections tell.
func Alike(a, b []Operator) bool {
	g, err := generate(a)
	h, other := generate(b)
	return err == nil && other == nil && g.alike(h)
}
