package identify

import (
	"math"
	"slices"

	"golang.org/x/sync/errgroup"
)

const (
	sampled  = 1024 // phases that are tried before any is sieved
	together = 256  // promising phases tried before the bar is raised
)

// promising is a phase that passed the sieve.
type promising struct {
	n       int // of the entries
	promise float64
}

// screen returns the phases that gain most by their strong lines, best first, at most shortlist of them. A sample sets the
// bar; what promises more is tried in the order of its promise until no phase left can reach the list. The result does not
// depend on how the work is shared.
func (s *search) screen(v *view) []candidate {
	var list []candidate
	stride := max(1, len(s.entries)/sampled)
	var sample []int
	for n := 0; n < len(s.entries); n += stride {
		sample = append(sample, n)
	}
	list = s.best(list, s.trials(v, sample))
	if stride == 1 {
		return list
	}
	s.weigh(v)
	bar := s.barOf(list)
	sieves := [2]sieve{newSieve(s.ruler, v.tables, narrowReach, bar), newSieve(s.ruler, v.tables, wideReach, bar)}
	rest := s.sieved(&sieves, stride)
	for ; len(rest) > 0 && rest[0].promise > bar; bar = s.barOf(list) {
		part := rest[:min(together, len(rest))]
		rest = rest[len(part):]
		list = s.best(list, s.trials(v, s.sievedFinely(&sieves, bar, part)))
	}
	return list
}

// barOf is the gain that it takes to come onto a list.
func (s *search) barOf(list []candidate) float64 {
	least := s.threshold * s.threshold
	if len(list) < shortlist {
		return least
	}
	return math.Max(least, list[len(list)-1].gain)
}

// best merges two lists.
func (s *search) best(a, b []candidate) []candidate {
	a = append(a, slices.DeleteFunc(b, func(c candidate) bool { return !(c.gain > 0) })...)
	byGain(a)
	return slices.Clone(a[:min(shortlist, len(a))])
}

// trials tries entries by their strong lines.
func (s *search) trials(v *view, entries []int) []candidate {
	out := make([]candidate, len(entries))
	s.share(len(entries), 32, func(lo, hi int) {
		var lines []stick
		for k := lo; k < hi; k++ {
			e := s.entries[entries[k]]
			if s.has(e.index) {
				continue
			}
			lines = s.ruler.strongSticks(e.strong, lines[:0])
			out[k] = candidate{index: e.index, trial: bestTrial(v.tables, lines, reachOf(e.soluble), v.displacement, stretchSigma(e.soluble))}
		}
	})
	return out
}

// weigh finds the weight of every entry once a ruler: uncertainties hardly fall when phases are explained.
func (s *search) weigh(v *view) {
	if s.weights != nil {
		return
	}
	s.weights = make([]weight, len(s.entries))
	narrow, wide := newWeights(s.ruler, v.tables, reachMarks(narrowReach)), newWeights(s.ruler, v.tables, reachMarks(wideReach))
	s.share(len(s.entries), sieveChunk, func(lo, hi int) {
		for n := lo; n < hi; n++ {
			if e := &s.entries[n]; e.soluble {
				s.weights[n] = wide.of(e.strong)
			} else {
				s.weights[n] = narrow.of(e.strong)
			}
		}
	})
}

// sieveChunk is how many entries are sieved in one go.
const sieveChunk = 4096

// of returns the sieve for an entry.
func (e *entry) of(sieves *[2]sieve) *sieve {
	if e.soluble {
		return &sieves[1]
	}
	return &sieves[0]
}

// sieved returns the entries outside the sample that promise to gain more than the bar of the sieves, the most promising first.
func (s *search) sieved(sieves *[2]sieve, stride int) []promising {
	parts := make([][]promising, (len(s.entries)+sieveChunk-1)/sieveChunk)
	s.share(len(s.entries), sieveChunk, func(lo, hi int) {
		var out []promising
		for n := lo; n < hi; n++ {
			e := &s.entries[n]
			if p := e.of(sieves).promise(e.strong, s.weights[n]); p > 0 && n%stride != 0 && !s.has(e.index) {
				out = append(out, promising{n, p})
			}
		}
		parts[lo/sieveChunk] = out
	})
	list := slices.Concat(parts...)
	slices.SortStableFunc(list, func(a, b promising) int { return cmpFloat(b.promise, a.promise) })
	return list
}

// sievedFinely returns the entries that promise to gain more than a bar on a closer look.
func (s *search) sievedFinely(sieves *[2]sieve, bar float64, list []promising) []int {
	hold := make([]bool, len(list))
	s.share(len(list), 32, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			e := &s.entries[list[k].n]
			hold[k] = e.of(sieves).gain(e.strong, s.weights[list[k].n], bar) > bar
		}
	})
	var out []int
	for k, p := range list {
		if hold[k] {
			out = append(out, p.n)
		}
	}
	return out
}

// share calls work for parts of 0 … n−1 on all workers.
func (s *search) share(n, chunk int, work func(lo, hi int)) {
	var workers errgroup.Group
	workers.SetLimit(s.workers())
	for lo := 0; lo < n; lo += chunk {
		workers.Go(func() error {
			work(lo, min(n, lo+chunk))
			return nil
		})
	}
	_ = workers.Wait() // no worker fails
}
