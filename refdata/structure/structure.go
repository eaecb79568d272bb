package structure

import (
	"errors"
	"slices"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// Limits of what is computed; beyond them the error is ErrTooBig.
const (
	MaxSites       = 2000      // sites as listed
	MaxAtoms       = 8000      // atoms in the cell
	MaxReflections = 4_000_000 // reflections to look at, both Friedel mates counted once
	maxTerms       = 400_000_000
)

// Errors of the constructors; test with errors.Is.
var (
	ErrNoAtoms    = errors.New("no atoms")
	ErrNoCell     = errors.New("no cell")
	ErrNoSymmetry = errors.New("no symmetry")
	ErrElement    = errors.New("unknown element")
	ErrOccupancy  = errors.New("impossible occupancy")
	ErrBValue     = errors.New("impossible displacement parameter")
	ErrPosition   = errors.New("impossible coordinate")
	ErrMisfit     = errors.New("cell does not have the symmetry of the space group")
	ErrDensity    = errors.New("impossible density")
	ErrTooBig     = errors.New("structure is too big")
)

// DefaultB is taken where a structure states no displacement parameter, Å² (common practice for inorganic crystals at room temperature).
const DefaultB = 0.5

// A Site is one set of symmetry-equivalent atoms.
type Site struct {
	Label        string           // as published
	Element      *element.Element // on the site
	Position     [3]float64       // of one of the atoms, put exactly on its special position
	Occupancy    float64          // 0 to 1
	B            float64          // Å²
	Multiplicity int              // atoms in the cell
	images       [][3]float64
}

// A Structure is a validated crystal structure. Make one with Read, FromCIF or FromRecord; do not change its slices.
type Structure struct {
	ID, Name, Formula string        // as in refdata.Phase
	SpaceGroup        string        // as chosen, with qualifier; or as the source names it when its own operators were used
	Cell              refdata.Cell  // edges and angles
	Sites             []Site        // of the asymmetric unit
	Z                 float64       // formula units per cell
	Source            string        // where it was published
	Confidence        string        // in it, in words
	Preparation       string        // as in refdata.Phase
	SolidSolution     bool          // as in refdata.Phase
	Cautions          []xrd.Caution // about the data

	group      *group
	rotations  [][9]int
	reciprocal refdata.Metric
	volume     float64
	unplaced   float64                                                                // hydrogen atoms in the cell that the formula has and no site
	dispersion func(z int, wavelength float64) (fp, fpp float64, basis element.Basis) // nil: element.Dispersion
}

// Operators returns all symmetry operators.
func (s *Structure) Operators() []Operator { return s.group.operators() }

// avogadro is N_A in 10²⁴/mol, so that g/mol over Å³ is g/cm³ (SI, exact).
const avogadro = 0.602214076

// Density returns the density, g/cm³, of the cell's contents.
func (s *Structure) Density() float64 { return s.mass() / (avogadro * s.volume) }

// mass of the cell's contents, g/mol.
func (s *Structure) mass() float64 {
	m := s.unplaced * hydrogen.Weight
	for _, site := range s.Sites {
		m += site.atoms() * site.Element.Weight
	}
	return m
}

// atoms in the cell, with occupancy.
func (s *Site) atoms() float64 { return s.Occupancy * float64(s.Multiplicity) }

// Composition returns the mass fraction of each element in order of first appearance; the sum is 1.
func (s *Structure) Composition() []refdata.ElementShare {
	var shares []refdata.ElementShare
	total := s.mass()
	for _, e := range s.contents() {
		shares = append(shares, refdata.ElementShare{Symbol: e.Symbol, MassFraction: s.content(e) * e.Weight / total})
	}
	return shares
}

// Elements returns the set of elements.
func (s *Structure) Elements() refdata.ElementSet {
	var set refdata.ElementSet
	for _, site := range s.Sites {
		set = set.With(site.Element.Z)
	}
	if s.unplaced > 0 {
		set = set.With(hydrogen.Z)
	}
	return set
}

// elements in order of first appearance.
func (s *Structure) elements() []*element.Element {
	var list []*element.Element
	seen := [element.MaxZ + 1]bool{}
	for _, site := range s.Sites {
		if z := site.Element.Z; !seen[z] {
			seen[z] = true
			list = append(list, site.Element)
		}
	}
	return list
}

// contents are the elements of the sites, with hydrogen that has none.
func (s *Structure) contents() []*element.Element {
	list := s.elements()
	if s.unplaced > 0 && !slices.Contains(list, hydrogen) {
		list = append(list, hydrogen)
	}
	return list
}

// content returns the atoms of an element in the cell, hydrogen without a place included.
func (s *Structure) content(e *element.Element) float64 {
	n := s.count(e)
	if e == hydrogen {
		n += s.unplaced
	}
	return n
}

// count returns the atoms of an element on the sites of the cell.
func (s *Structure) count(e *element.Element) float64 {
	var n float64
	for i := range s.Sites {
		if s.Sites[i].Element == e {
			n += s.Sites[i].atoms()
		}
	}
	return n
}

// MassAbsorption returns μ/ρ, cm²/g, at a wavelength in Å, and how the least sure of its terms came about.
func (s *Structure) MassAbsorption(wavelength float64) (mu float64, basis element.Basis) {
	basis = element.Tabulated
	total := s.mass()
	for _, e := range s.contents() {
		m, b := element.MassAttenuation(e.Z, wavelength)
		mu += s.content(e) * e.Weight / total * m
		basis = max(basis, b)
	}
	return mu, basis
}

// caution appends a caution; package documentation lists the codes.
func (s *Structure) caution(code string, severity xrd.Severity, text, remedy string, evidence map[string]any) {
	s.Cautions = append(s.Cautions, xrd.Caution{Code: code, Severity: severity, Text: text, Remedy: remedy, Evidence: evidence})
}
