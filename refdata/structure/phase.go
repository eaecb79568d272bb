package structure

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

const (
	// DefaultMaxTwoTheta is how far lines go when the beam does not say, and how far the strongest line is looked for, degrees.
	DefaultMaxTwoTheta = 150
	// highestTwoTheta caps what is asked for: LP diverges at 180°.
	highestTwoTheta = 175
	// coincidence is the distance, degrees 2θ, within which families are one line.
	coincidence = 1e-3
	// WeakestLine is the least intensity that is kept, on the scale where the strongest line is 100.
	WeakestLine = 0.01
	// relativeU is the relative standard uncertainty stated for a computed RIR (common practice: 5 %).
	relativeU = 0.05
)

// Phase computes everything of the structure for a beam. Lines ascend in 2θ up to beam.MaxTwoTheta (150° when 0, at most 175°); families
// within 0.001° are one line, at the intensity-weighted mean of their 1/d, each with its own |F|². Intensities and the RIR refer to the
// strongest line up to 150° even when it lies outside the range, so that no line of a short range need reach 100; lines below WeakestLine
// are left out. Structures with too many reflections are ErrTooBig.
func (s *Structure) Phase(beam refdata.Beam) (refdata.Phase, error) {
	wanted := rangeOf(beam)
	lines, basis, err := s.lines(beam, max(wanted, DefaultMaxTwoTheta))
	if err != nil {
		return refdata.Phase{}, err
	}
	strongest := strongestOf(lines, DefaultMaxTwoTheta)
	unit := strongest
	if !(unit > 0) { // every line lies beyond 150°
		unit = strongestOf(lines, highestTwoTheta)
	}
	p := refdata.Phase{
		ID: s.ID, Name: s.Name, Formula: s.Formula, SpaceGroup: s.SpaceGroup, System: s.System(), Z: s.Z, Density: s.Density(),
		DensityOrigin: "computed", Composition: s.Composition(), Beam: beam, Rotations: s.laueGroup(), Preparation: s.Preparation,
		SolidSolution: s.SolidSolution, Source: s.Source, Confidence: s.Confidence, Cautions: slices.Clone(s.Cautions),
	}
	p.MeanB, p.MeanBU, p.AssumedB = s.meanB()
	cell := s.Cell
	p.Cell = &cell
	var absorption element.Basis
	p.MassAbsorption, absorption = s.MassAbsorption(beam.Radiation.KAlpha1)
	p.RIR = refdata.RIR{RelU: math.Hypot(relativeU, s.unseenHydrogen()), Origin: "computed", Basis: "area", Radiation: beam.Radiation.Name}
	if reference := corundum113(beam); reference > 0 && strongest > 0 {
		p.RIR.Value = s.absolute(strongest) / reference
	} else {
		p.RIR = refdata.RIR{}
	}
	p.Lines = s.kept(lines, unit, wanted)
	if max(basis, absorption) > element.Tabulated {
		p.Cautions = append(p.Cautions, dispersionCaution(basis, absorption, beam.Radiation))
	}
	return p, nil
}

// meanB returns the mean displacement parameter of the atoms, Å², each weighted with its scattering power Z², its standard
// uncertainty, and whether any of them is a default. With ⟨|F|²⟩ = Σ n f² over atoms, d ln⟨|F|²⟩ = −2 s² Σ w ΔB for the shares w that each
// element has of Σ n Z². Determinations differ by refdata.RelativeBU for each element (what is wrong for it, as its charge, moves
// all its atoms alike), so that
//
//	u² = Σ (RelativeBU w B)²
//
// over the elements; typical values, in structures that are only roughly known, are wrong for all elements together.
func (s *Structure) meanB() (b, u float64, assumed bool) {
	var sum, weight float64
	elements := map[int]float64{} // Σ n Z² B of each, by atomic number
	for _, site := range s.Sites {
		w := float64(site.Multiplicity) * site.Occupancy * float64(site.Element.Z*site.Element.Z)
		sum += w * site.B
		weight += w
		elements[site.Element.Z] += w * site.B
	}
	assumed = slices.ContainsFunc(s.Cautions, func(c xrd.Caution) bool { return c.Code == "structure-b-default" })
	if !(weight > 0) {
		return 0, 0, assumed
	}
	if s.Confidence == "medium" || s.Confidence == "low" {
		return sum / weight, refdata.RelativeBU * sum / weight, assumed
	}
	return sum / weight, refdata.RelativeBU * floats.Norm(slices.Sorted(maps.Values(elements)), 2) / weight, assumed
}

func rangeOf(beam refdata.Beam) float64 {
	if !(beam.MaxTwoTheta > 0) {
		return DefaultMaxTwoTheta
	}
	return min(beam.MaxTwoTheta, highestTwoTheta)
}

// absolute is what an intensity contributes to a scan per gram: I/(V² ρ).
func (s *Structure) absolute(intensity float64) float64 {
	return intensity / (s.volume * s.volume * s.Density())
}

// lines returns all lines up to an angle with absolute intensities Σ m |F|² LP, ascending.
func (s *Structure) lines(beam refdata.Beam, maxTwoTheta float64) ([]refdata.Line, element.Basis, error) {
	wavelength := beam.Radiation.KAlpha1
	if !(wavelength > 0) {
		return nil, 0, fmt.Errorf("%w: wavelength %g Å", xrd.ErrUnknownRadiation, wavelength)
	}
	dMin := wavelength / (2 * math.Sin(xrd.Radians(maxTwoTheta)/2))
	list, err := s.reflections(dMin)
	if err != nil {
		return nil, 0, err
	}
	basis, err := s.structureFactors(list, wavelength)
	if err != nil {
		return nil, 0, err
	}
	slices.SortFunc(list, func(a, b reflection) int {
		return cmp.Or(cmp.Compare(a.q2, b.q2), compare(a.h, a.k, a.l, b.h, b.k, b.l))
	})
	ratio := beam.Monochromator.PolarizationRatio()
	var lines []refdata.Line
	for len(list) > 0 {
		n := together(list, wavelength)
		if line, ok := s.join(list[:n], wavelength, ratio); ok {
			lines = append(lines, line)
		}
		list = list[n:]
	}
	return lines, basis, nil
}

// together returns how many of the sorted reflections are within the coincidence of the first.
func together(list []reflection, wavelength float64) int {
	first := angle(list[0].q2, wavelength)
	n := 1
	for n < len(list) && angle(list[n].q2, wavelength)-first < coincidence {
		n++
	}
	return n
}

func angle(q2, wavelength float64) float64 {
	return xrd.Degrees(2 * math.Asin(min(1, wavelength*math.Sqrt(q2)/2)))
}

// join makes a line of coinciding reflections; it reports false when they have no intensity.
func (s *Structure) join(list []reflection, wavelength, ratio float64) (refdata.Line, bool) {
	var total, q float64
	families := make([]refdata.Family, 0, len(list))
	for _, r := range list {
		i := float64(r.multiplicity) * r.f2 * xrd.LorentzPolarization(angle(r.q2, wavelength), ratio)
		if !(i > 0) {
			continue
		}
		total += i
		q += i * math.Sqrt(r.q2)
		families = append(families, refdata.Family{H: r.h, K: r.k, L: r.l, Multiplicity: r.multiplicity, F2: r.f2})
	}
	if !(total > 0) {
		return refdata.Line{}, false
	}
	slices.SortStableFunc(families, func(a, b refdata.Family) int {
		return cmp.Compare(float64(b.Multiplicity)*b.F2, float64(a.Multiplicity)*a.F2)
	})
	d := total / q
	twoTheta, _ := xrd.TwoTheta(d, wavelength)
	return refdata.Line{D: d, TwoTheta: twoTheta, Intensity: total, Families: families}, true
}

// strongestOf returns the greatest intensity up to an angle.
func strongestOf(lines []refdata.Line, maxTwoTheta float64) float64 {
	var most float64
	for _, l := range lines {
		if l.TwoTheta <= maxTwoTheta {
			most = max(most, l.Intensity)
		}
	}
	return most
}

// kept scales lines to 100, drops weak ones, those out of range, and families that vanish beside the others, and names families as usual.
func (s *Structure) kept(lines []refdata.Line, strongest, maxTwoTheta float64) []refdata.Line {
	var keep []refdata.Line
	for _, l := range lines {
		l.Intensity *= 100 / strongest
		if l.Intensity < WeakestLine || l.TwoTheta > maxTwoTheta {
			continue
		}
		first := l.Families[0]
		least := 1e-9 * float64(first.Multiplicity) * first.F2
		l.Families = slices.DeleteFunc(l.Families, func(f refdata.Family) bool { return float64(f.Multiplicity)*f.F2 < least })
		for i := range l.Families {
			f := &l.Families[i]
			f.H, f.K, f.L = s.customary(f.H, f.K, f.L)
		}
		keep = append(keep, l)
	}
	return keep
}

// laueGroup returns the rotations of the Laue group, inversion included.
func (s *Structure) laueGroup() [][9]int {
	all := slices.Clone(s.rotations)
	for _, r := range s.rotations {
		all = append(all, negated(r))
	}
	return all
}

// System returns which cell parameters the symmetry leaves free, on the axes of this cell: the form that a cell without any
// special values takes when it is averaged over the Laue group. A primitive cell of a cubic crystal is rhombohedral in this sense.
func (s *Structure) System() refdata.CrystalSystem {
	general := refdata.Cell{A: 5, B: 5.7, C: 6.3, Alpha: 83, Beta: 97, Gamma: 104}
	averaged, _ := average(general, s.rotations)
	return averaged.System()
}

func dispersionCaution(dispersion, absorption element.Basis, r xrd.Radiation) xrd.Caution {
	return xrd.Caution{
		Code: "structure-dispersion", Severity: xrd.SeverityNote,
		Text:     fmt.Sprintf("For %s (%.5f Å) the dispersion of some elements is %s and their absorption %s.", r.Name, r.KAlpha1, dispersion, absorption),
		Remedy:   "Use one of the tabulated tubes where intensities must be right to a few per cent.",
		Evidence: map[string]any{"wavelength": r.KAlpha1, "dispersion": dispersion.String(), "absorption": absorption.String()},
	}
}
