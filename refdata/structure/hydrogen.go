package structure

import (
	"fmt"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// hydrogen is element 1; its isotopes count as it.
var hydrogen, _ = element.ByZ(1)

// addHydrogen counts the hydrogen that the formula states and the atom list leaves out, as most determinations with X-rays do. It
// scatters next to nothing but has its share of mass, density, absorption and so of the RIR: 4 % in gibbsite. It is added only where the
// other elements bear the formula out.
func (s *Structure) addHydrogen(f refdata.Formula) {
	var have, want, stated float64
	for _, t := range f {
		if t.Element.Z == 1 {
			stated += t.Atoms
			continue
		}
		have += s.count(t.Element)
		want += t.Atoms
	}
	if !(have > 0 && want > 0 && stated > 0) {
		return
	}
	total := stated * have / want
	missing := total - s.count(hydrogen)
	if !(missing > hydrogenTolerance*total) {
		return
	}
	s.unplaced = missing
	s.caution("structure-hydrogen", xrd.SeverityCaution,
		fmt.Sprintf("The formula %s has %.4g atoms of hydrogen in the cell, of which the atom list leaves out %.4g: mass, density, absorption and I/Ic are those of the formula, the lines those of the listed atoms.",
			s.Formula, total, missing),
		"Add the hydrogen atoms if their places are known.", map[string]any{"hydrogen_stated": total, "hydrogen_missing": missing})
}

// hydrogenTolerance is the share of the hydrogen that may be missing or too many: as for other elements.
const hydrogenTolerance = 0.05

// unseenHydrogen is the relative uncertainty of intensities for hydrogen that has no place: its share of the electrons is the
// amplitude that is missing, in any phase, and an intensity changes by twice the amplitude times the cosine of that phase, √2 of it in
// the mean square, somewhat less for hydrogen's fast fall with angle.
func (s *Structure) unseenHydrogen() float64 {
	electrons := s.unplaced
	for _, e := range s.elements() {
		electrons += s.count(e) * float64(e.Z)
	}
	return s.unplaced / electrons
}
