package structure

import "phasetally/refdata/element"

// WithCromerLiberman returns the structure with the older dispersion table for every element, which the oracle uses.
func WithCromerLiberman(s *Structure) *Structure {
	c := *s
	c.dispersion = func(z int, wavelength float64) (fp, fpp float64, basis element.Basis) {
		return element.DispersionFrom(element.CromerLiberman, z, wavelength)
	}
	return &c
}

// F2 returns the mean |F|² of any reflection.
func F2(s *Structure, h, k, l int, wavelength float64) float64 {
	list := []reflection{{h: h, k: k, l: l, multiplicity: 1, q2: s.reciprocal.Norm2(float64(h), float64(k), float64(l))}}
	if _, err := s.structureFactors(list, wavelength); err != nil {
		return -1
	}
	return list[0].f2
}
