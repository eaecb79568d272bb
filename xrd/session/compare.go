package session

import (
	"math"

	"phasetally/xrd/result"
)

// A Difference is a phase in two answers.
type Difference struct {
	ID, Name string   // of the phase
	A, B     *float64 // wt%; nil where there is none
	UA, UB   *float64 // standard uncertainties, wt%
	Change   *float64 // B − A, wt%; nil unless both are known
	Z        *float64 // of the change over the standard uncertainty of both, as if they were independent
}

// Compare lists the phases of two answers: those of the first in its order, then those that only the second has. Two answers from
// one scan share its counts, so that their z tells more than the difference does by chance; for two scans it is the z of
// independent values.
func Compare(a, b result.Document) []Difference {
	var out []Difference
	seen := map[string]bool{}
	for _, p := range a.Phases {
		seen[p.ID] = true
		out = append(out, difference(p.ID, p.Name, a, b))
	}
	for _, p := range b.Phases {
		if !seen[p.ID] {
			out = append(out, difference(p.ID, p.Name, a, b))
		}
	}
	return out
}

func difference(id, name string, a, b result.Document) Difference {
	d := Difference{ID: id, Name: name}
	d.A, d.UA = weightOf(a, id)
	d.B, d.UB = weightOf(b, id)
	if d.A == nil || d.B == nil {
		return d
	}
	d.Change = result.Number(*d.B - *d.A)
	if d.UA != nil && d.UB != nil {
		if u := math.Hypot(*d.UA, *d.UB); u > 0 {
			d.Z = result.Number(*d.Change / u)
		}
	}
	return d
}

// weightOf returns the weight fraction of a phase and its standard uncertainty, from the covariance of the fractions.
func weightOf(doc result.Document, id string) (w, u *float64) {
	for i, p := range doc.Phases {
		if p.ID != id || p.WeightPercent == nil {
			continue
		}
		if i < len(doc.FractionCovariance) && i < len(doc.FractionCovariance[i]) {
			if v := doc.FractionCovariance[i][i]; v > 0 {
				u = result.Number(math.Sqrt(v))
			}
		}
		return p.WeightPercent, u
	}
	return nil, nil
}
