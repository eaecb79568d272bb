package structure

import (
	"fmt"
	"math"

	"phasetally/refdata"
	"phasetally/xrd"
)

// chooseOrigin returns the candidate, one for each origin that the symbol leaves open, that fits best: whose contents match formula, Z and
// density as given, and whose atoms are not impossibly close. It says that the origin was guessed.
func (d *draft) chooseOrigin(candidates []*Structure) *Structure {
	if len(d.symmetries) == 1 {
		return candidates[0]
	}
	best, least := 0, math.Inf(1)
	contacts := make([]float64, len(candidates))
	for i, s := range candidates {
		contacts[i] = s.shortestContact(2_000_000)
		if p := d.penalty(s, contacts[i]); p < least-1e-6 {
			best, least = i, p
		}
	}
	s := candidates[best]
	evidence := map[string]any{"chosen": s.SpaceGroup}
	for i, d := range contacts {
		if !math.IsInf(d, 0) {
			evidence["shortest_contact "+candidates[i].SpaceGroup] = d
		}
	}
	s.caution("structure-origin-guessed", xrd.SeverityCaution, fmt.Sprintf("The origin is not stated; %s was taken, which fits best.", s.SpaceGroup),
		"Add the symmetry operators, or :1 or :2 to the symbol.", evidence)
	return s
}

// penalty is 0 for a structure that agrees with everything known.
func (d *draft) penalty(s *Structure, contact float64) float64 {
	var p float64
	if f, err := refdata.ParseFormula(d.formula); err == nil {
		off, _ := s.formulaDeviation(f)
		p += 10 * math.Min(1, off)
		if d.z > 0 {
			p += 10 * math.Min(1, math.Abs(s.Z/d.z-1))
		}
	}
	if d.density > 0 {
		p += 10 * math.Min(1, math.Abs(s.Density()/d.density-1))
	}
	return p + math.Max(0, 3-contact) // atoms that are 3 Å apart tell nothing
}

// closestSensible is the distance, Å, below which two atoms that are both there, neither hydrogen, are impossible: H aside the shortest bond is
// 1.1 Å, of nitrogen.
const closestSensible = 0.9

// checkContacts warns of atoms that are impossibly close, the sign of a wrong origin, setting or coordinate.
func (s *Structure) checkContacts() {
	if d := s.shortestContact(20_000); d < closestSensible {
		s.caution("structure-contact", xrd.SeverityCaution, fmt.Sprintf("Two atoms are only %.2f Å apart.", d),
			"Check origin, setting, coordinates and occupancies.", map[string]any{"distance": d})
	}
}

// shortestContact returns the shortest distance, Å, between atoms that can be there together, hydrogen aside; infinite when there are none,
// or more pairs than most.
func (s *Structure) shortestContact(most int) float64 {
	images := 0
	for i := range s.Sites {
		images += len(s.Sites[i].images)
	}
	least := math.Inf(1)
	if len(s.Sites)*images*len(s.group.centring) > most {
		return least
	}
	metric := s.Cell.Direct()
	for i := range s.Sites {
		for j := range s.Sites {
			a, b := &s.Sites[i], &s.Sites[j]
			if a.Occupancy+b.Occupancy < 1.05 || a.Element.Z == 1 || b.Element.Z == 1 {
				continue
			}
			for _, image := range b.images {
				for _, c := range s.group.centring {
					least = math.Min(least, nearest(a.Position, image, c, metric))
				}
			}
		}
	}
	return math.Sqrt(least)
}

// nearest returns the squared distance of x from the nearest lattice-equivalent of y + c that is not at the same place.
func nearest(x, y, c [3]float64, metric refdata.Metric) float64 {
	d, _ := closest(y, c, x, metric)
	least := math.Inf(1)
	for i := -1.0; i <= 1; i++ {
		for j := -1.0; j <= 1; j++ {
			for k := -1.0; k <= 1; k++ {
				if n := metric.Norm2(d[0]+i, d[1]+j, d[2]+k); n > nearness*nearness {
					least = math.Min(least, n)
				}
			}
		}
	}
	return least
}
