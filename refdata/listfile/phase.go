package listfile

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"phasetally/refdata"
	"phasetally/refdata/element"
	"phasetally/xrd"
)

// ErrNoLines says that the beam reaches none of a list's lines; test with errors.Is.
var ErrNoLines = errors.New("no line of the phase lies in the range of this beam")

// Common practice: lists that do not name a radiation hold for copper.
var copper, _ = xrd.ParseRadiation("Cu")

// corundum113 is the spacing, Å, of the line that RIR refer to: SRM 676a cell (read), 1/√(4(1 + 1 + 1)/(3a²) + 9/c²).
const corundum113 = 2.08546

// unseenDispersion is what a conversion between radiations adds to the relative uncertainty of a RIR: dispersion changes
// structure factors by a few per cent, which a list cannot know (common practice).
const unseenDispersion = 0.03

// Phase returns the phase for a beam. Intensities and RIR that hold for another radiation or monochromator are converted
// by the Lorentz-polarisation factor; when the radiation differs, a caution says so. The strongest line up to 150° is 100
// even when the beam's range ends before it; lines beyond the range are left out. When none remains it returns
// ErrNoLines.
func (l List) Phase(beam refdata.Beam) (refdata.Phase, error) {
	p := refdata.Phase{
		ID: l.ID, Name: l.Name, Formula: l.Formula, SpaceGroup: l.SpaceGroup, Cell: l.Cell, Z: l.Z,
		Density: l.Density, DensityOrigin: l.DensityOrigin, RIR: l.RIR, Beam: beam,
		Preparation: l.Preparation, SolidSolution: l.SolidSolution, Source: l.Source, Confidence: l.Confidence, Cautions: slices.Clone(l.Cautions),
	}
	if l.Cell != nil {
		p.System = l.Cell.System()
	}
	if f, err := refdata.ParseFormula(l.Formula); err == nil {
		p.Composition = f.Composition()
	}
	from, err := l.beam(beam)
	if err != nil {
		return refdata.Phase{}, err
	}
	p.MassAbsorption = l.absorption(p.Composition, from, beam)
	p.Lines = l.convert(from, beam)
	p.RIR.Value *= normalise(p.Lines) / strength(corundum113, from, beam)
	if p.Lines = within(p.Lines, cmp.Or(beam.MaxTwoTheta, reference)); len(p.Lines) == 0 {
		return refdata.Phase{}, fmt.Errorf("%s: %w", l.ID, ErrNoLines)
	}
	if !sameRadiation(from.Radiation, beam.Radiation) {
		p.Cautions = append(p.Cautions, l.converted(from, beam))
		if p.RIR.Value > 0 {
			p.RIR.Radiation, p.RIR.RelU = beam.Radiation.Name, math.Hypot(p.RIR.RelU, unseenDispersion)
		}
	}
	return p, nil
}

// beam returns what the intensities of the list hold for.
func (l List) beam(to refdata.Beam) (refdata.Beam, error) {
	from := refdata.Beam{Radiation: copper}
	if l.Radiation != nil {
		from.Radiation = *l.Radiation
	}
	var err error
	from.Monochromator, err = xrd.ParseMonochromator(l.Monochromator, from.Radiation)
	if from.Monochromator.String() == to.Monochromator.String() {
		from.Monochromator = to.Monochromator // the file has fewer digits
	}
	return from, err
}

// Degrees 2θ: up to where the strongest line is looked for, as for structures; and where lines end, because LP diverges
// at 180°.
const reference, highest = 150, 175

// convert returns all lines for another beam, ascending, not yet normalised.
func (l List) convert(from, to refdata.Beam) []refdata.Line {
	var lines []refdata.Line
	for _, row := range l.Rows {
		angle, ok := xrd.TwoTheta(row.D, to.Radiation.KAlpha1)
		if !ok || angle > highest {
			continue
		}
		lines = append(lines, refdata.Line{D: row.D, TwoTheta: angle, Intensity: row.Intensity * strength(row.D, from, to), Families: row.Families})
	}
	slices.SortStableFunc(lines, func(a, b refdata.Line) int { return cmp.Compare(a.TwoTheta, b.TwoTheta) })
	return lines
}

// strength is the factor by which the intensity of a spacing changes between beams: the ratio of the
// Lorentz-polarisation factors. A line that the first beam cannot reach keeps its intensity.
func strength(d float64, from, to refdata.Beam) float64 {
	if sameRadiation(from.Radiation, to.Radiation) && from.Monochromator == to.Monochromator {
		return 1
	}
	before, ok1 := xrd.TwoTheta(d, from.Radiation.KAlpha1)
	after, ok2 := xrd.TwoTheta(d, to.Radiation.KAlpha1)
	if !ok1 || !ok2 || before > highest || after > highest {
		return 1
	}
	return xrd.LorentzPolarization(after, to.Monochromator.PolarizationRatio()) / xrd.LorentzPolarization(before, from.Monochromator.PolarizationRatio())
}

// within returns the lines up to an angle; they ascend.
func within(lines []refdata.Line, limit float64) []refdata.Line {
	n, _ := slices.BinarySearchFunc(lines, limit, func(l refdata.Line, limit float64) int {
		if l.TwoTheta <= limit {
			return -1
		}
		return 1
	})
	return lines[:n:n]
}

// normalise makes the strongest line within reference 100 and returns what it was as a share of 100.
func normalise(lines []refdata.Line) float64 {
	top := strongest(within(lines, reference))
	if !(top > 0) {
		return 1
	}
	for i := range lines {
		lines[i].Intensity = lines[i].Intensity / top * 100
	}
	return top / 100
}

func strongest(lines []refdata.Line) float64 {
	top := 0.0
	for _, line := range lines {
		top = math.Max(top, line.Intensity)
	}
	return top
}

// sameRadiation allows for rounded wavelengths.
func sameRadiation(a, b xrd.Radiation) bool { return math.Abs(a.KAlpha1/b.KAlpha1-1) < 1e-3 }

func (l List) converted(from, to refdata.Beam) xrd.Caution {
	c := xrd.Caution{
		Code: "mixed-rir", Severity: xrd.SeverityCaution,
		Text: fmt.Sprintf("The reference intensities of %s hold for %s and were converted to %s by the Lorentz-polarisation factor; anomalous dispersion is not in it.",
			l.Name, from.Radiation.Name, to.Radiation.Name),
		Remedy:   "Give a crystal structure (CIF) of the phase, or a list for this radiation.",
		Evidence: map[string]any{"phase": l.ID, "from": from.Radiation.Name, "to": to.Radiation.Name},
	}
	if l.Radiation == nil {
		c.Code = "radiation-assumed"
		c.Text = fmt.Sprintf("The reference list of %s does not name the radiation of its intensities; copper was assumed and converted to %s.", l.Name, to.Radiation.Name)
		c.Remedy = "Add the column radiation to the list."
	}
	return c
}

// absorption takes the list's own number where it holds, else computes it from the composition.
func (l List) absorption(shares []refdata.ElementShare, from, to refdata.Beam) float64 {
	if l.MassAbsorption > 0 && sameRadiation(from.Radiation, to.Radiation) {
		return l.MassAbsorption
	}
	sum := 0.0
	for _, s := range shares {
		e, _ := element.Lookup(s.Symbol)
		mu, _ := element.MassAttenuation(e.Z, to.Radiation.KAlpha1)
		if !(mu > 0) {
			return 0
		}
		sum += s.MassFraction * mu
	}
	return sum
}
