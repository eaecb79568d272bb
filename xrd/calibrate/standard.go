package calibrate

import (
	"errors"
	"fmt"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/structure"
	"phasetally/xrd"
)

// ErrUnknownStandard says that a standard was not understood; test with errors.Is.
var ErrUnknownStandard = errors.New("unknown standard")

// A Standard is a powder of certified cell.
type Standard struct {
	ID          string  // "silicon"; of a structure of the user's, its id
	Certificate string  // "SRM 640f"; empty for a structure of the user's
	A, C        float64 // certified edges, Å; C is 0 for cubic ones
	U           float64 // standard uncertainty of A, Å; 0 when none is stated. C is taken to have the same relative one.
	Source      string  // where the values were read
	structure   *structure.Structure
}

// certified are the standards, the present issue of each first. Expanded uncertainties (k = 2) are halved. All hold at
// 22.5 °C.
var certified = []Standard{
	{ID: "silicon", Certificate: "SRM 640f", A: 5.431144, U: 0.00004, Source: "NIST, abstract of the certification paper (read)"},
	{ID: "silicon", Certificate: "SRM 640d", A: 5.43123, U: 0.00004, Source: "certificate of 2010 as quoted by a laboratory (read)"},
	{ID: "silicon", Certificate: "SRM 640c", A: 5.4311946, U: 0.0000046, Source: "certificate (from memory)"},
	{ID: "silicon", Certificate: "SRM 640b", A: 5.430940, U: 0.000011, Source: "J. Appl. Cryst. 40 (2007), abstract (read)"},
	{ID: "lanthanum-hexaboride", Certificate: "SRM 660c", A: 4.156826, U: 0.00004, Source: "certificate (read)"},
	{ID: "lanthanum-hexaboride", Certificate: "SRM 660b", A: 4.15689, U: 0.00004, Source: "certificate as quoted in Powder Diffr. (2011) (read)"},
	{ID: "lanthanum-hexaboride", Certificate: "SRM 660a", A: 4.1569162, U: 0.0000049, Source: "list of a supplier (read)"},
	{ID: "corundum", Certificate: "SRM 676a", A: 4.7590914, C: 12.991779, Source: "list of a supplier, no uncertainty (read)"},
	{ID: "corundum", Certificate: "SRM 1976a", A: 4.758877, C: 12.992877, Source: "list of a supplier, no uncertainty (read)"},
	{ID: "ceria", Certificate: "SRM 674b", A: 5.411651, Source: "list of a supplier, no uncertainty (read)"},
}

// FindStandard understands the name of a standard ("silicon") or the number of an issue ("640d", "SRM 640d"), without
// regard to case. It returns ErrUnknownStandard otherwise.
func FindStandard(name string) (Standard, error) {
	bare := func(s string) string {
		return strings.TrimLeft(strings.TrimPrefix(strings.ToLower(strings.TrimSpace(s)), "srm"), " -")
	}
	for _, s := range certified {
		if strings.EqualFold(s.ID, strings.TrimSpace(name)) || bare(s.Certificate) == bare(name) {
			return s.complete()
		}
	}
	return Standard{}, fmt.Errorf("%w %q: give silicon, lanthanum-hexaboride, corundum, ceria, the number of an issue such as 640d, or a CIF file",
		ErrUnknownStandard, name)
}

// FromStructure makes a standard of a structure whose cell the user vouches for.
func FromStructure(s *structure.Structure) Standard {
	return Standard{ID: s.ID, A: s.Cell.A, C: s.Cell.C, Source: s.Source, structure: s}
}

// complete adds the atoms of the starter collection, which only say which lines are strong.
func (s Standard) complete() (Standard, error) {
	for _, r := range refdata.Starter() {
		if r.ID != s.ID {
			continue
		}
		r.Cell.A, r.Cell.B, r.Cell.C = s.A, s.A, s.A
		if s.C > 0 {
			r.Cell.C = s.C
		}
		var err error
		s.structure, err = structure.FromRecord(r)
		return s, err
	}
	return s, fmt.Errorf("%w: no structure for %s", ErrUnknownStandard, s.ID)
}

// Name tells the standard and its issue.
func (s Standard) Name() string {
	if s.Certificate == "" {
		return s.ID
	}
	return s.ID + " (" + s.Certificate + ")"
}

// weakest is the intensity, strongest line 100, below which a line tells nothing.
const weakest = 0.1

// phases returns every line of the standard as a phase of its own: intensities are free, so that texture, grains and
// the slit cannot pass for widths or shifts.
func (s Standard) phases(beam refdata.Beam) ([]refdata.Phase, error) {
	if s.structure == nil {
		return nil, fmt.Errorf("%w: take it from FindStandard or FromStructure", ErrUnknownStandard)
	}
	all, err := s.structure.Phase(beam)
	if err != nil {
		return nil, err
	}
	var out []refdata.Phase
	for _, l := range all.Lines {
		if l.Intensity < weakest {
			continue
		}
		p := all
		p.ID = all.ID
		if len(l.Families) > 0 {
			f := l.Families[0]
			p.ID = fmt.Sprintf("%s %d %d %d", all.ID, f.H, f.K, f.L)
		}
		p.Lines = []refdata.Line{l}
		out = append(out, p)
	}
	return out, nil
}

// relativeU is the relative standard uncertainty of the certified cell.
func (s Standard) relativeU() float64 {
	if !(s.A > 0) {
		return 0
	}
	return s.U / s.A
}

// cellShift returns the shift, degrees 2θ, of a line at an angle per relative change of the cell: −2 tan θ rad.
func cellShift(twoTheta float64) float64 {
	return -2 * xrd.Degrees(tanHalf(twoTheta))
}
