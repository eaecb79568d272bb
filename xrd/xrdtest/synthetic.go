package xrdtest

import (
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"slices"

	"phasetally/refdata"
	"phasetally/refdata/element"
)

// Synthetic yields n invented phases that look like those of a large collection: three in four of low symmetry with atoms
// at random, one in four isotypic with a phase of the starter collection but of another cell. Ids are synthetic-0,
// synthetic-1 and so on. The strong lines belong to the atoms, so that screening and computing agree.
func Synthetic(seed uint64, n int) iter.Seq[refdata.Record] {
	return func(yield func(refdata.Record) bool) {
		starter := refdata.Starter()
		for i := range n {
			rnd := rand.New(rand.NewPCG(seed, uint64(i))) // by number, so that a shorter collection is the start of a longer
			var r refdata.Record
			if rnd.IntN(4) == 0 {
				r = isotype(rnd, starter[rnd.IntN(len(starter))])
			} else {
				r = lowSymmetry(rnd)
			}
			r.ID = fmt.Sprintf("synthetic-%d", i)
			r.Name, r.Source, r.Preparation = r.ID, "invented", ""
			if !yield(r) {
				return
			}
		}
	}
}

// isotype stretches a structure by up to a fifth. Intensities depend little on that.
func isotype(rnd *rand.Rand, r refdata.Record) refdata.Record {
	by := math.Exp(rnd.Float64()*0.4 - 0.2)
	r.Cell.A, r.Cell.B, r.Cell.C = r.Cell.A*by, r.Cell.B*by, r.Cell.C*by
	r.Strong = slices.Clone(r.Strong)
	for k := range r.Strong {
		r.Strong[k].D *= float32(by)
	}
	r.KnownDensity = 0
	return r
}

// common are elements of minerals, ceramics and alloys.
var common = []string{"O", "O", "O", "Si", "Al", "Fe", "Ca", "Mg", "Na", "K", "Ti", "Cu", "Sn", "Ni", "Co", "Mn", "Cr", "Zn", "S", "P", "C",
	"B", "N", "Nb", "Zr", "Ba", "Sr", "Y", "La", "Bi", "Pb", "W", "Mo", "V", "Ag", "F", "Cl"}

// lowSymmetry puts up to ten atoms of two to four elements into a triclinic, monoclinic or orthorhombic cell.
func lowSymmetry(rnd *rand.Rand) refdata.Record {
	edge := func() float64 { return 3.2 * math.Exp(1.1*rnd.Float64()) }
	r := refdata.Record{SpaceGroup: "P -1", Cell: refdata.Cell{A: edge(), B: edge(), C: edge(), Alpha: 90, Beta: 90, Gamma: 90}}
	s := crystal{kind: rnd.IntN(3)}
	switch s.kind {
	case 0:
		r.Cell.Alpha, r.Cell.Beta, r.Cell.Gamma = 80+25*rnd.Float64(), 80+25*rnd.Float64(), 80+25*rnd.Float64()
	case 1:
		r.SpaceGroup, r.Cell.Beta = "P 1 2/m 1", 92+25*rnd.Float64()
	case 2:
		r.SpaceGroup = "P m m m"
	}
	kinds := make([]string, 2+rnd.IntN(3))
	for k := range kinds {
		kinds[k] = common[rnd.IntN(len(common))]
	}
	for k := range 2 + rnd.IntN(5) {
		el := kinds[k%len(kinds)]
		e, _ := element.Lookup(el)
		a := refdata.Atom{Label: fmt.Sprintf("%s%d", el, k), Element: el, X: rnd.Float64(), Y: rnd.Float64(), Z: rnd.Float64(), Occupancy: 1, B: 0.6}
		r.Atoms = append(r.Atoms, a)
		s.atoms = append(s.atoms, scatterer{a.X, a.Y, a.Z, float64(e.Z)})
	}
	r.Formula = kinds[0]
	r.Strong = s.strong(r.Cell)
	return r
}

// A crystal is triclinic (0), monoclinic (1) or orthorhombic (2), with atoms in general positions and a centre.
type crystal struct {
	kind  int
	atoms []scatterer
}

type scatterer struct{ x, y, z, charge float64 }

// structureFactor sums cosines; atoms scatter as charge × exp(−4 s²), near enough for a list of strong lines.
func (c crystal) structureFactor(h, k, l, s2 float64) float64 {
	var sum float64
	fall := math.Exp(-4.6 * s2)
	for _, a := range c.atoms {
		x, y, z := 2*math.Pi*h*a.x, 2*math.Pi*k*a.y, 2*math.Pi*l*a.z
		switch c.kind {
		case 0:
			sum += a.charge * math.Cos(x+y+z)
		case 1:
			sum += 2 * a.charge * math.Cos(x+z) * math.Cos(y)
		default:
			sum += 4 * a.charge * math.Cos(x) * math.Cos(y) * math.Cos(z)
		}
	}
	return sum * fall
}

const (
	leastD     = 1.1 // Å; weaker lines at smaller spacings are not among the strongest
	mostStrong = 12
	copper     = 1.5405929 // Å, Kα1
)

func (c crystal) strong(cell refdata.Cell) []refdata.StrongLine {
	g := cell.Reciprocal()
	limit := func(edge float64) int { return int(edge/leastD) + 1 }
	var list []refdata.StrongLine
	for h := 0; h <= limit(cell.A); h++ {
		for k := c.first(0, limit(cell.B)); k <= limit(cell.B); k++ {
			for l := c.first(1, limit(cell.C)); l <= limit(cell.C); l++ {
				if !c.listed(h, k, l) {
					continue
				}
				x, y, z := float64(h), float64(k), float64(l)
				q := g.Norm2(x, y, z) // 1/d²
				sin := copper / 2 * math.Sqrt(q)
				if q > 1/(leastD*leastD) || sin > 0.98 {
					continue
				}
				f := c.structureFactor(x, y, z, q/4)
				cos2 := 1 - 2*sin*sin
				intensity := f * f * c.multiplicity(h, k, l) * (1 + cos2*cos2) / (sin * sin * math.Sqrt(1-sin*sin))
				list = append(list, refdata.StrongLine{D: float32(1 / math.Sqrt(q)), Intensity: float32(intensity)})
			}
		}
	}
	slices.SortFunc(list, func(a, b refdata.StrongLine) int {
		if a.Intensity > b.Intensity {
			return -1
		}
		return 1
	})
	list = slices.Clone(list[:min(mostStrong, len(list))])
	most := list[0].Intensity
	for i := range list {
		list[i].Intensity *= 100 / most
	}
	return list
}

// first returns where the indices k (axis 0) and l (axis 1) start: at 0 when symmetry makes their sign indifferent.
func (c crystal) first(axis, limit int) int {
	if c.kind > axis {
		return 0
	}
	return -limit
}

// listed leaves one of each set of equivalent reflections.
func (c crystal) listed(h, k, l int) bool {
	switch {
	case h > 0:
		return true
	case c.kind == 1:
		return l > 0 || l == 0 && k > 0
	}
	return k > 0 || k == 0 && l > 0
}

// multiplicity counts the reflections that one of the listed stands for.
func (c crystal) multiplicity(h, k, l int) float64 {
	n := 2.0 // its opposite
	switch c.kind {
	case 1: // k and −k
		if k != 0 && (h != 0 || l != 0) {
			n *= 2
		}
	case 2:
		zeros := 0
		for _, i := range []int{h, k, l} {
			if i == 0 {
				zeros++
			}
		}
		n = float64(int(8) >> zeros)
	}
	return n
}
