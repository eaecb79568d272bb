package identify

import (
	"cmp"
	"math"
	"slices"

	"phasetally/xrd"
	"phasetally/xrd/result"
)

// Explain lists all phases of a collection, whatever the filter, that have one of their strongest lines within a tolerance,
// degrees 2θ, of an angle: those by whose strongest lines it is first, then by how near they lie.
func Explain(c Collection, f Filter, twoTheta, tolerance, wavelength float64) []result.Suspect {
	lo, okLo := spacing(twoTheta+tolerance, wavelength)
	hi, okHi := spacing(twoTheta-tolerance, wavelength)
	if !okLo || !okHi {
		return nil
	}
	out := []result.Suspect{}
	for i := range c.Len() {
		e := c.Entry(i)
		for rank, l := range e.Strong {
			d := float64(l.D)
			if d < lo || d > hi {
				continue
			}
			at, _ := xrd.TwoTheta(d, wavelength)
			out = append(out, result.Suspect{Index: i, ID: e.ID, Name: e.Name, Formula: e.Formula, D: d, TwoTheta: at,
				Intensity: float64(l.Intensity), Rank: rank + 1, Preparation: e.Preparation != "", Inside: f.allows(e)})
			break
		}
	}
	slices.SortStableFunc(out, func(a, b result.Suspect) int {
		if a.Rank != b.Rank {
			return a.Rank - b.Rank
		}
		return cmp.Compare(math.Abs(a.TwoTheta-twoTheta), math.Abs(b.TwoTheta-twoTheta))
	})
	return out
}

// spacing returns d at an angle; false where there is none.
func spacing(twoTheta, wavelength float64) (float64, bool) {
	if !(twoTheta > 0 && twoTheta < 180) || !(wavelength > 0) {
		return 0, false
	}
	return wavelength / (2 * math.Sin(xrd.Radians(twoTheta/2))), true
}
