package identify

import (
	"context"
	"math"
	"slices"

	"phasetally/xrd/pattern"
	"phasetally/xrd/screen"
)

// The question is how many phases of a library would explain the same lines as well although none of them is there: with a
// large library, or with patterns of few lines that many phases share but for the size of their cells, some always do. The
// library itself answers when its phases are tried with cells that are wrong beyond doubt: what such misfits gain, others
// gain at their own cells by chance, in proportion to how closely the cell is met. (Decoys, as in the search of spectra; Elias &
// Gygi, Nat. Methods 4 (2007) 207–214, from memory.)

// A null is what the library gains at wrong cells.
type null struct {
	perChange float64 // phases that explain as well, per relative change of cell
	each      float64 // phases of the library that each trial stands for, as far as others are likely
}

// nullOf tries the library at wrong cells on what a view shows, and counts what gains at least as much as asked for. It stops
// once there are enough.
func (s *search) nullOf(v *screen.View, least float64, enough func(null) bool) null {
	stride, each := s.crowd()
	of := func(narrow, wide int64) null {
		return null{each * (float64(narrow)/(2*screen.NarrowReach) + float64(wide)/(2*screen.WideReach)), each}
	}
	return of(v.CountDecoys(decoyRatios, stride, least, s.has, func(narrow, wide int64) bool { return enough(of(narrow, wide)) }))
}

// crowd returns the distance of the entries that are tried at wrong cells, and how many phases each trial stands for. Where the
// elements are given, few phases may be named, but what the whole collection meets tells how easily lines are met.
func (s *search) crowd() (stride int, each float64) {
	allowed := float64(len(s.entries))
	if s.elementsGiven() {
		n := s.job.Collection.Len()
		sample := (n + strideOf(n) - 1) / strideOf(n)
		return 1, allowed / float64(2*policy.Chance.Steps*sample)
	}
	stride = strideOf(len(s.entries))
	return stride, math.Min(1, allowed/policy.Chance.ExpectedSize) * float64(stride) / float64(2*policy.Chance.Steps)
}

// decoyScreen is the screening of the phases that are tried at wrong cells: those that may be named, or a sample of the whole
// collection where elements leave few of them.
func (s *search) decoyScreen() *screen.Screen {
	if !s.elementsGiven() {
		return s.screen
	}
	if s.decoys == nil {
		var all []screen.Entry
		n := s.job.Collection.Len()
		for i := 0; i < n; i += strideOf(n) {
			e := s.job.Collection.Entry(i)
			all = append(all, screen.Entry{Index: i, SolidSolution: e.SolidSolution, Strong: e.Strong})
		}
		s.decoys = screen.New(all, screen.Scan{TwoTheta: s.job.Setup.TwoTheta, Radiation: s.job.Setup.Radiation, Workers: s.workers()}, s.job.Setup.Instrument)
	}
	return s.decoys
}

// strideOf returns for how many of n entries each of those that are tried stands.
func strideOf(n int) int {
	sample := policy.Chance.Sample
	if n >= policy.Chance.VeryMany {
		sample /= 5
	}
	return max(1, (n+sample-1)/sample)
}

// decoyRatios are the changes of spacings that make cells wrong.
var decoyRatios = func() (out []float32) {
	for k := range policy.Chance.Steps {
		change := policy.Chance.Nearest + policy.Chance.Step*float64(k)
		out = append(out, float32(math.Exp(change)), float32(math.Exp(-change)))
	}
	return out
}()

// within is the range of relative changes no larger than one, on both sides.
func within(change float64) float64 { return 2 * math.Max(policy.Chance.Closest, math.Abs(change)) }

// chance returns how many phases of the library explain as well by chance, at cells no farther from their own than the change of
// a phase.
func (n null) chance(change float64) float64 { return n.perChange * within(change) }

// most is the upper bound of a chance that was measured as 0: had it been larger, a decoy would likely have been seen.
func (n null) most(change, reach float64) float64 {
	return policy.Chance.Unseen * n.each / (2 * reach) * within(change)
}

// Chances from which a phase does not come in, is not named, and is probable at most.
// dropByChance finds the chance of every match that was searched for, with everything else in place, and takes those out that may
// well be explained by chance, the luckier half first: others may hold without them.
func (s *search) dropByChance(ctx context.Context) error {
	for {
		s.tell("asking what else would explain as much by chance")
		var failing []int
		for p := range s.matches {
			if m := &s.matches[p]; !m.Required {
				s.measureChance(p)
				if m.Chance >= policy.Chance.Named && !s.elementsGiven() { // whoever gave the elements knows what is likely to be there
					failing = append(failing, p)
				}
			}
		}
		if len(failing) == 0 {
			return nil
		}
		s.drop(failing, func(m *Match) float64 { return -m.Chance })
		if err := s.settle(ctx); err != nil {
			return err
		}
	}
}

// measureChance finds the chance of match p. The least of several counts: phases that are taken out leave lines behind that
// others then meet as well.
func (s *search) measureChance(p int) {
	m := &s.matches[p]
	chance, hidden := s.chanceOf(s.fit, p, m.Index, math.Inf(1))
	if !m.measured || chance+hidden < m.Chance+m.hidden {
		m.Chance, m.hidden, m.measured = chance, hidden, true
	}
}

// byChance reports whether the collection is expected to equal an attempt by chance. What the first phase meets is not known well
// enough to tell.
func (s *search) byChance(a attempt) bool {
	if len(s.matches) == 0 || s.elementsGiven() {
		return false
	}
	chance, _ := s.chanceOf(a.fit, len(s.matches), a.index, policy.Chance.Refused)
	return chance >= policy.Chance.Refused
}

// chanceOf returns the chance of phase number p of a fit, an entry of the collection, and the upper bound of one that was measured
// as 0. Of a chance above a limit it tells no more than that it is.
func (s *search) chanceOf(f *pattern.Fit, p, index int, limit float64) (chance, hidden float64) {
	v, e := s.among(f, p), s.job.Collection.Entry(index)
	change := cellShift(f, p)
	n := s.nullOf(v, policy.Chance.AsWell*v.TryStrong(e.Strong, e.SolidSolution).Gain, func(n null) bool { return n.chance(change) >= limit })
	return n.chance(change), n.most(change, screen.Reach(e.SolidSolution))
}

// among returns what screening would see without phase number p of a fit when nothing stood higher than its own lines: what else
// is there, and how badly that is explained as yet, must not make others look better than it.
func (s *search) among(f *pattern.Fit, p int) *screen.View {
	residual, variance := s.unexplainedBy(f, policy.Search.LeastKappa)
	most := slices.Max(f.Curves[p])
	for i, c := range f.Curves[p] {
		residual[i] = math.Min(residual[i]+c, most)
	}
	displacement, _ := displacementOf(f)
	return s.decoyScreen().View(screen.Residual{Intensity: residual, Variance: variance, Instrument: f.Instrument(), Displacement: displacement, Known: true})
}
