package structure

import (
	"fmt"
	"slices"
	"strings"

	"phasetally/refdata"
	"phasetally/refdata/element"
)

// FromRecord makes a structure of a published record. Its operators count before its symbol. The error is an *xrd.SyntaxError that
// names the record in place of a file.
func FromRecord(r refdata.Record) (*Structure, error) {
	d := &draft{file: r.ID, cell: r.Cell, formula: r.Formula, density: r.KnownDensity}
	d.about = Structure{ID: r.ID, Name: r.Name, Source: r.Source, Confidence: r.Confidence, Preparation: r.Preparation, SolidSolution: r.SolidSolution}
	var err error
	if d.symmetries, err = recordSymmetry(r); err != nil {
		return nil, d.fail(0, err, "give operators, a Hermann–Mauguin symbol, or a Hall symbol after \"Hall: \"")
	}
	for _, a := range r.Atoms {
		e, ok := element.Lookup(a.Element)
		if !ok {
			return nil, d.fail(0, fmt.Errorf("%w %q of %s", ErrElement, a.Element, a.Label), "give a chemical symbol")
		}
		d.atoms = append(d.atoms, draftAtom{label: a.Label, element: e, x: [3]float64{a.X, a.Y, a.Z}, occupancy: a.Occupancy, b: a.B})
	}
	return d.finish()
}

func recordSymmetry(r refdata.Record) ([]symmetry, error) {
	if len(r.Operators) > 0 {
		ops := make([]Operator, len(r.Operators))
		for i, text := range r.Operators {
			var err error
			if ops[i], err = ParseOperator(text); err != nil {
				return nil, err
			}
		}
		g, err := generate(ops)
		return []symmetry{{r.SpaceGroup, g}}, err
	}
	if hall, ok := strings.CutPrefix(r.SpaceGroup, "Hall: "); ok {
		g, err := hallGroup(hall)
		return []symmetry{{hallName(hall), g}}, err
	}
	if r.SpaceGroup == "" {
		return nil, ErrNoSymmetry
	}
	found, err := FindSettings(r.SpaceGroup, r.Cell)
	if err != nil {
		return nil, err
	}
	return readings(found, r.Cell)
}

// hallName returns the Hermann–Mauguin symbol of a Hall symbol if it is one of the settings known, else the Hall symbol itself.
func hallName(hall string) string {
	key := strings.Join(strings.Fields(strings.ReplaceAll(hall, "_", " ")), " ")
	if i, ok := settings().hall[key]; ok {
		return settings().rows[i].String()
	}
	return "Hall: " + key
}

// nameOf returns the symbol of the setting that has exactly these operators, empty when none has.
func nameOf(g *group) string {
	for _, s := range settings().rows {
		if s.Order != g.order() {
			continue
		}
		if other, err := hallGroup(s.Hall); err == nil && g.same(other) {
			return s.String()
		}
	}
	return ""
}

// readings generates the groups of settings. Where the unique axis is open, the first one that fits the cell is taken; where the origin is
// open, both are readings.
func readings(found []Setting, cell refdata.Cell) ([]symmetry, error) {
	var list []symmetry
	var origins string
	for _, s := range found {
		g, err := hallGroup(s.Hall)
		if err != nil {
			return nil, err
		}
		if _, _, err := symmetrise(cell, g.laue()); err != nil && len(found) > 1 {
			continue
		}
		if len(list) > 0 && (s.Qualifier == "" || s.Symbol != found[0].Symbol || strings.Contains(origins, s.Qualifier)) {
			continue
		}
		origins += s.Qualifier
		list = append(list, symmetry{s.String(), g})
	}
	if list == nil {
		g, err := hallGroup(found[0].Hall)
		return []symmetry{{found[0].String(), g}}, err
	}
	slices.Reverse(list) // origin 2, at an inversion centre, is the commoner
	return list, nil
}
