package identify

import (
	"cmp"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
)

const (
	sampled = 256 // phases that are tried before any is sieved
	growth  = 4   // of the parts that are sieved
	block   = 256 // neighbours that are sieved in one go
)

// A sounding is the trial of an entry by its strong lines.
type sounding struct {
	n int // of the entries
	trial
}

// screen returns the phases that gain most by their strong lines, best first, at most shortlist of them. A sample and the
// best of earlier screenings set the bar; of the others those are tried that pass a sieve. Parts are sieved that grow, so that
// the bar is high by the time when most are. The result does not depend on how the work is shared.
func (s *search) screen(v *view) []candidate {
	tried := make([]bool, len(s.entries))
	list := s.best(nil, s.trials(v, s.sample(tried)))
	if stride := len(s.entries) / sampled; stride > 1 {
		sieves := newSieves(s.ruler, v.tables)
		for stride > 1 {
			stride = max(1, stride/growth)
			sieves.raise(v.barOf(list))
			list = s.best(list, s.trials(v, s.sieved(sieves, tried, stride)))
		}
	}
	out := make([]candidate, len(list))
	for k, t := range list {
		out[k] = candidate{index: s.entries[t.n].index, trial: t.trial}
		if !slices.Contains(s.seen, t.n) {
			s.seen = append(s.seen, t.n)
		}
	}
	return out
}

// sample returns entries at a stride, and those that were among the best before; they are marked as tried.
func (s *search) sample(tried []bool) []int {
	list := slices.Clone(s.seen)
	for _, n := range list {
		tried[n] = true
	}
	for n := 0; n < len(s.entries); n += max(1, len(s.entries)/sampled) {
		if !tried[n] {
			tried[n] = true
			list = append(list, n)
		}
	}
	return list
}

// barOf is the gain that it takes to come onto a list.
func (v *view) barOf(list []sounding) float64 {
	if len(list) < shortlist {
		return v.least
	}
	return math.Max(v.least, list[len(list)-1].gain)
}

// best merges a list with others, which are changed; of equals the earlier entry comes first.
func (s *search) best(list, others []sounding) []sounding {
	bar := 0.0
	if len(list) == shortlist {
		bar = list[shortlist-1].gain
	}
	list = append(list, slices.DeleteFunc(others, func(t sounding) bool { return !(t.gain > 0 && t.gain >= bar) })...)
	slices.SortFunc(list, func(a, b sounding) int { return cmp.Or(cmpFloat(b.gain, a.gain), a.n-b.n) })
	return slices.Clone(list[:min(shortlist, len(list))])
}

// trials tries entries by their strong lines.
func (s *search) trials(v *view, entries []int) []sounding {
	out := make([]sounding, len(entries))
	s.share(len(entries), 32, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			if e := &s.entries[entries[k]]; !s.has(e.index) {
				out[k] = sounding{entries[k], s.sound(v, e.strong, e.soluble)}
			}
		}
	})
	return out
}

// sound tries a phase by its strong lines.
func (s *search) sound(v *view, strong []refdata.StrongLine, soluble bool) trial {
	var room [mostSticks]stick
	return bestTrial(v.tables, s.ruler.strongSticks(strong, room[:0]), reachOf(soluble), v.displacement, stretchSigma(soluble))
}

// sieved returns the entries of blocks at a stride that pass, but for those tried already; all are marked as tried.
func (s *search) sieved(sieves *sieves, tried []bool, stride int) []int {
	parts := make([][]int, (len(s.entries)+block-1)/block)
	s.share((len(parts)+stride-1)/stride, 1, func(k, _ int) {
		var out []int
		for n := k * stride * block; n < min((k*stride+1)*block, len(s.entries)); n++ {
			if tried[n] {
				continue
			}
			tried[n] = true
			e := &s.entries[n]
			if sieves.of[e.kind()].passes(e.strong) {
				out = append(out, n)
			}
		}
		parts[k] = out
	})
	return slices.Concat(parts...)
}

// kind is 1 for phases of wide reach.
func (e *entry) kind() int {
	if e.soluble {
		return 1
	}
	return 0
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
