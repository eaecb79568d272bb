package identify

import (
	"context"
	"math"
	"slices"
)

// The question is how many phases of a library would explain the same lines as well although none of them is there: with a
// large library, or with patterns of few lines that many phases share but for the size of their cells, some always do. The
// library itself answers when its phases are tried with cells that are wrong beyond doubt: what such misfits gain, others
// gain at their own cells by chance, in proportion to how closely the cell is met. (Decoys, as in the search of spectra; Elias &
// Gygi, Nat. Methods 4 (2007) 207–214, from memory.)

const (
	decoyNearest = 0.04   // least relative change of spacings that makes a cell wrong beyond doubt
	decoyStep    = 0.0125 // distance of the changes that are tried, on both sides
	decoySteps   = 8
	decoySample  = 1500 // entries that stand for all in a large library
	// A phase explains the lines of another as well from asWell of its gain on, when it finds at most lessFound less of its own
	// intensity.
	asWell    = 0.8
	lessFound = 0.1
	// closest is the relative change of a cell that is as good as none: published cells and displacements are no better.
	closest = 5e-4
	// expectedSize is the number of phases that are tried up to which a collection holds what its owner expects, so that another
	// phase of the same type is the less likely, the smaller it is (common practice).
	expectedSize = 1000
)

// A decoy is a phase at a wrong cell that gained something.
type decoy struct {
	trial
	reach float64 // of the cells that were tried about the wrong one
}

// serves reports whether a decoy explains as much as a phase, by as many lines that are there as completely.
func (d decoy) serves(t trial) bool {
	return d.gain >= asWell*t.gain && d.met >= t.met && d.found >= t.found-lessFound
}

// A null is what the library gains at wrong cells.
type null struct {
	decoys []decoy
	each   float64 // phases of the library that each stands for, over the number of wrong cells, as far as others are likely
}

// nullOf tries the library at wrong cells on what a view shows, and keeps what gains anything worth having.
func (s *search) nullOf(v *view) *null {
	stride := max(1, (len(s.entries)+decoySample-1)/decoySample)
	n := (len(s.entries) + stride - 1) / stride
	parts := make([][]decoy, n)
	least := asWell * s.threshold * s.threshold
	s.share(n, 16, func(lo, hi int) {
		var lines, moved []stick
		for k := lo; k < hi; k++ {
			e := &s.entries[k*stride]
			if s.has(e.index) {
				continue
			}
			lines = s.ruler.strongSticks(e.strong, lines[:0])
			for _, marks := range decoyMarks() {
				moved = s.ruler.moved(lines, marks, moved[:0])
				t := bestTrial(v.tables, moved, reachOf(e.soluble), v.displacement, stretchSigma(e.soluble))
				if t.gain > least {
					parts[k] = append(parts[k], decoy{t, reachOf(e.soluble)})
				}
			}
		}
	})
	unexpected := math.Min(1, float64(len(s.entries))/expectedSize)
	out := &null{each: unexpected * float64(stride) / float64(2*decoySteps)}
	for _, p := range parts {
		out.decoys = append(out.decoys, p...)
	}
	return out
}

// decoyMarks returns the shifts of lines that make cells wrong.
func decoyMarks() []int {
	var out []int
	for k := range decoySteps {
		m := int(math.Round((decoyNearest + decoyStep*float64(k)) / rulerStep))
		out = append(out, m, -m)
	}
	return out
}

// moved appends lines shifted by a number of marks, without those that leave the ruler.
func (r ruler) moved(lines []stick, marks int, out []stick) []stick {
	for _, l := range lines {
		if l.mark += marks; l.mark >= 0 && l.mark < r.marks {
			out = append(out, l)
		}
	}
	return out
}

// chance returns how many phases of the library explain as well as a trial, by chance, at cells no farther from their own than
// the change of a phase.
func (n *null) chance(t trial, change float64) float64 {
	var perChange float64 // of relative cell
	for _, d := range n.decoys {
		if d.serves(t) {
			perChange += n.each / (2 * d.reach)
		}
	}
	return perChange * 2 * math.Max(closest, math.Abs(change))
}

// most is the chance that may hide behind none: less than one phase was seen where decoys were tried.
func (n *null) most(change, reach float64) float64 {
	return 0.7 * n.each / (2 * reach) * 2 * math.Max(closest, math.Abs(change))
}

// strongTrial tries a phase by its strong lines, as decoys are.
func (s *search) strongTrial(v *view, index int) trial {
	k := slices.IndexFunc(s.entries, func(e entry) bool { return e.index == index })
	if k < 0 {
		return trial{}
	}
	e := &s.entries[k]
	return bestTrial(v.tables, s.ruler.strongSticks(e.strong, nil), reachOf(e.soluble), v.displacement, stretchSigma(e.soluble))
}

// Chances from which a phase is not named, is tentative at most, and is probable at most.
const (
	namedChance       = 0.05
	probableChance    = 0.02
	establishedChance = 0.01
)

// dropLucky finds the chance of every member that was searched for, with everything else in place, and takes those out that may
// well be explained by chance, the luckiest first.
func (s *search) dropLucky(ctx context.Context) error {
	for {
		worst, most := -1, namedChance
		for p := range s.members {
			m := &s.members[p]
			if m.Required {
				continue
			}
			v := s.without(p)
			lucky, change := s.nullOf(v), cellShift(s.fit, p)
			m.Chance = lucky.chance(s.strongTrial(v, m.Index), change)
			m.hidden = lucky.most(change, reachOf(m.Phase.Soluble))
			if m.Chance >= most {
				worst, most = p, m.Chance
			}
		}
		if worst < 0 {
			return nil
		}
		s.members = slices.Delete(s.members, worst, worst+1)
		if err := s.settle(ctx); err != nil {
			return err
		}
	}
}
