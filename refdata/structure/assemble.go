package structure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// A draft is a structure as read, before it is checked.
type draft struct {
	file       string
	line       int // of the whole structure, for errors
	about      Structure
	cell       refdata.Cell
	cellLine   int
	symmetries []symmetry // more than one where the origin is open
	atoms      []draftAtom
	formula    string // as given
	z          float64
	density    float64  // as given, g/cm³
	defaultB   []string // labels of the atoms without displacement parameter
	cautions   []xrd.Caution
}

// A symmetry is one reading of the space group.
type symmetry struct {
	name  string
	group *group
}

type draftAtom struct {
	label     string
	element   *element.Element
	x         [3]float64
	occupancy float64
	b         float64
	line      int
}

func (d *draft) fail(line int, err error, fix string) error {
	if line == 0 {
		line = d.line
	}
	return &xrd.SyntaxError{File: d.file, Line: line, Err: err, Fix: fix}
}

const cellFix = "correct the cell lengths (Å) and angles (degrees)"

// finish checks a draft and makes the structure of it.
func (d *draft) finish() (*Structure, error) {
	if err := d.cell.Check(); err != nil {
		return nil, d.fail(d.cellLine, err, cellFix)
	}
	if err := d.checkAtoms(); err != nil {
		return nil, err
	}
	candidates := make([]*Structure, 0, len(d.symmetries))
	var first error
	for _, sym := range d.symmetries {
		s, err := d.with(sym)
		if err != nil {
			first = cmp.Or(first, err)
			continue
		}
		candidates = append(candidates, s)
	}
	if len(candidates) == 0 {
		return nil, first
	}
	s := d.chooseOrigin(candidates)
	s.checkContacts()
	s.checkB()
	if len(d.defaultB) > 0 {
		s.caution("structure-b-default", xrd.SeverityNote,
			fmt.Sprintf("No displacement parameter is stated for %s; B = %g Å² is taken.", listed(d.defaultB), DefaultB),
			"Give B or U in the structure; strong lines at high angle depend on it.", map[string]any{"sites": d.defaultB, "b": DefaultB})
	}
	return s, nil
}

// listed names the first few.
func listed(names []string) string {
	if len(names) > 4 {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:4], ", "), len(names)-4)
	}
	return strings.Join(names, ", ")
}

func (d *draft) checkAtoms() error {
	switch n := len(d.atoms); {
	case n == 0:
		return d.fail(0, ErrNoAtoms, "give the atoms with their coordinates")
	case n > MaxSites:
		return d.fail(d.atoms[MaxSites].line, fmt.Errorf("%w: %d sites, at most %d", ErrTooBig, n, MaxSites), "give a smaller structure")
	}
	for _, a := range d.atoms {
		for _, x := range a.x {
			if !(math.Abs(x) < 100) {
				return d.fail(a.line, fmt.Errorf("%w %g of %s", ErrPosition, x, a.label), "give coordinates as fractions of the cell edges")
			}
		}
		if !(a.occupancy >= 0 && a.occupancy < 1.0005) {
			return d.fail(a.line, fmt.Errorf("%w %g of %s", ErrOccupancy, a.occupancy, a.label), "give an occupancy from 0 to 1")
		}
		if !(a.b >= 0 && a.b < 100) {
			return d.fail(a.line, fmt.Errorf("%w: B = %g Å² of %s", ErrBValue, a.b, a.label), "give B from 0 to 100 Å² (U = B/8π²)")
		}
		if a.element.Weight <= 0 {
			return d.fail(a.line, fmt.Errorf("%w: no data for %s", ErrElement, a.element.Symbol), "elements up to uranium are known")
		}
	}
	return nil
}

// with makes the structure with one reading of the symmetry.
func (d *draft) with(sym symmetry) (*Structure, error) {
	about := d.about
	s := &about
	s.SpaceGroup, s.group, s.rotations = sym.name, sym.group, sym.group.laue()
	s.Cautions = append([]xrd.Caution(nil), d.cautions...)
	cell, change, err := symmetrise(d.cell, s.rotations)
	if err != nil {
		return nil, d.fail(d.cellLine, fmt.Errorf("%w %s", err, sym.name), "check the cell against the space group and its axes (H or R)")
	}
	if change > 1e-4 {
		s.caution("structure-cell", xrd.SeverityNote, fmt.Sprintf("The cell departs by %.2g from the symmetry of %s and was averaged.", change, sym.name),
			"Check the cell lengths and angles.", map[string]any{"relative_change": change})
	}
	s.Cell, s.reciprocal, s.volume = cell, cell.Reciprocal(), cell.Volume()
	if err := d.placeAtoms(s); err != nil {
		return nil, err
	}
	d.name(s)
	return s, nil
}

// occupants returns the occupancy of a place with one more atom, and whether that atom is there already.
func (s *Structure) occupants(at [3]float64, a draftAtom) (occupied float64, same bool) {
	occupied = a.occupancy
	metric := s.Cell.Direct()
	for i := range s.Sites {
		other := &s.Sites[i]
		if s.group.near(other.images, at, metric) {
			occupied += other.Occupancy
			same = same || other.Element == a.element && other.Occupancy+a.occupancy > 1.0005
		}
	}
	return occupied, same
}

// mixesMetals tells whether another metal sits on a place already. Such a crystal is a solid solution: its composition, and with it
// its cell, is one of many.
func (s *Structure) mixesMetals(at [3]float64, e *element.Element) bool {
	return e.Metal() && slices.ContainsFunc(s.Sites, func(other Site) bool {
		_, near := closest(at, [3]float64{}, other.Position, s.Cell.Direct())
		return near && other.Element != e && other.Element.Metal()
	})
}

// placeAtoms expands the sites. A site at the place of an earlier one with the same element is the same atom listed twice, unless
// their occupancies make one atom together (Fe2+ and Fe3+ on one site).
func (d *draft) placeAtoms(s *Structure) error {
	metric := s.Cell.Direct()
	total := 0
	var twice, full []string // labels
	shared := false
	for _, a := range d.atoms {
		if a.occupancy == 0 {
			continue
		}
		at, images, n := place(a.x, s.group, metric)
		occupied, same := s.occupants(at, a)
		if same {
			twice = append(twice, a.label)
			continue
		}
		if occupied > 1.02 {
			full = append(full, a.label)
		}
		shared = shared || s.mixesMetals(at, a.element)
		if total += n; total > MaxAtoms {
			return d.fail(a.line, fmt.Errorf("%w: more than %d atoms in the cell", ErrTooBig, MaxAtoms), "give a smaller structure")
		}
		s.Sites = append(s.Sites, Site{a.label, a.element, at, a.occupancy, a.b, n, images})
	}
	if len(s.Sites) == 0 {
		return d.fail(0, fmt.Errorf("%w: every occupancy is 0", ErrNoAtoms), "give the atoms with their occupancies")
	}
	s.SolidSolution = s.SolidSolution || shared
	if len(twice) > 0 {
		s.caution("structure-duplicate-site", xrd.SeverityCaution, fmt.Sprintf("Listed twice through symmetry and counted once: %s.", listed(twice)),
			"List every atom of the asymmetric unit once.", map[string]any{"sites": twice})
	}
	if len(full) > 0 {
		s.caution("structure-overfull-site", xrd.SeverityCaution, fmt.Sprintf("Occupancies of atoms sharing a site exceed 1: %s.", listed(full)),
			"Check the occupancies.", map[string]any{"sites": full})
	}
	return nil
}
