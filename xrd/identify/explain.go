package identify

import (
	"math"
	"slices"

	"phasetally/xrd"
)

// A Suspect is a phase that has a strong line near an angle.
type Suspect struct {
	Index       int     `json:"-"` // in the collection
	ID          string  `json:"id"`
	Name        string  `json:"name"`
	Formula     string  `json:"formula"`
	D           float64 `json:"d"`           // of the line, Å
	TwoTheta    float64 `json:"two_theta"`   // of the line, degrees
	Intensity   float64 `json:"intensity"`   // strongest line = 100
	Rank        int     `json:"rank"`        // 1 for the phase's strongest line
	Preparation bool    `json:"preparation"` // on the watch-list
	Inside      bool    `json:"allowed"`     // by the filter
}

// Explain lists all phases of a collection, whatever the filter, that have one of their strongest lines within a tolerance,
// degrees 2θ, of an angle: those by whose strongest lines it is first, then by how near they lie.
func Explain(c Collection, f Filter, twoTheta, tolerance, wavelength float64) []Suspect {
	lo, okLo := spacing(twoTheta+tolerance, wavelength)
	hi, okHi := spacing(twoTheta-tolerance, wavelength)
	if !okLo || !okHi {
		return nil
	}
	out := []Suspect{}
	for i := range c.Len() {
		e := c.Entry(i)
		for rank, l := range e.Strong {
			d := float64(l.D)
			if d < lo || d > hi {
				continue
			}
			at, _ := xrd.TwoTheta(d, wavelength)
			out = append(out, Suspect{i, e.ID, e.Name, e.Formula, d, at, float64(l.Intensity), rank + 1, e.Preparation != "", f.allows(e)})
			break
		}
	}
	slices.SortStableFunc(out, func(a, b Suspect) int {
		if a.Rank != b.Rank {
			return a.Rank - b.Rank
		}
		return cmpFloat(math.Abs(a.TwoTheta-twoTheta), math.Abs(b.TwoTheta-twoTheta))
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
