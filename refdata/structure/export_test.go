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
