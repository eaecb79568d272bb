package identify

import (
	"math"
	"slices"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
)

// A sieve tells of a phase, from its strong lines alone, the most that it could gain at any misplacement. Most phases of a
// large collection fail it in a few dozen look-ups, so that few have to be tried.
type sieve struct {
	ruler  ruler
	any    mesh   // all displacements at once
	meshes []mesh // displacements that lie together
}

// A mesh holds, for spacings in steps of the leading bits of a float32, the largest area and the smallest uncertainty that a
// matched filter shows anywhere within reach of a misplacement.
type mesh struct {
	first uint32
	holes []hole
}

type hole struct{ area, u float32 } // u is 0 outside the scan

// meshBits are dropped from a float32: 2048 steps an octave.
const meshBits = 12

func (m mesh) at(d float32) hole {
	if k := math.Float32bits(d)>>meshBits - m.first; k < uint32(len(m.holes)) { // smaller than first wraps round
		return m.holes[k]
	}
	return hole{}
}

// newMesh merges tables over a reach of relative spacing.
func newMesh(r ruler, tables []table, reach float64) mesh {
	merged := make([]hole, r.marks)
	for _, t := range tables {
		for k := range merged {
			if t.u[k] > 0 {
				merged[k] = merged[k].or(hole{t.area[k], t.u[k]})
			}
		}
	}
	wide := widen(merged, int(math.Ceil(reach/rulerStep))+1)
	bottom := float32(math.Exp(r.top - float64(r.marks-1)*rulerStep))
	m := mesh{first: math.Float32bits(bottom)>>meshBits + 1}
	end := math.Float32bits(float32(math.Exp(r.top))) >> meshBits
	for k := m.first; k < end; k++ {
		middle := math.Float32frombits(k<<meshBits | 1<<(meshBits-1))
		m.holes = append(m.holes, wide[min(r.marks-1, max(0, r.mark(float64(middle))))])
	}
	return m
}

func (h hole) or(o hole) hole {
	switch {
	case o.u == 0:
		return h
	case h.u == 0:
		return o
	}
	return hole{max(h.area, o.area), min(h.u, o.u)}
}

// widen merges each hole with those up to reach away, in steps that double what is merged.
func widen(h []hole, reach int) []hole {
	window := 2*reach + 1
	out := slices.Clone(h)
	covered := 1
	for covered < window {
		step := min(covered, window-covered)
		for k := 0; k+step < len(out); k++ {
			out[k] = out[k].or(out[k+step])
		}
		covered += step
	}
	centred := make([]hole, len(h)) // out[k] holds k … k+window−1
	for k := range centred {
		centred[k] = out[max(0, k-reach)]
	}
	return centred
}

// meshTables is how many displacements share a mesh.
const meshTables = 3

func newSieve(r ruler, tables []table, reach float64) sieve {
	s := sieve{ruler: r, any: newMesh(r, tables, reach)}
	if len(tables) == 1 {
		return s
	}
	for k := 0; k < len(tables); k += meshTables {
		s.meshes = append(s.meshes, newMesh(r, tables[k:min(k+meshTables, len(tables))], reach))
	}
	return s
}

// promise returns the most that a phase could gain, or 0 when that is below a bar.
func (s sieve) promise(lines []refdata.StrongLine, bar float64) float64 {
	if !s.any.allows(lines, bar) {
		return 0
	}
	if s.meshes == nil {
		return s.any.gain(lines)
	}
	best := 0.0
	for _, m := range s.meshes {
		if m.allows(lines, bar) {
			best = math.Max(best, m.gain(lines))
		}
	}
	return best
}

// allows reports whether all but absentQuantile of the intensity allows the scale that it takes to gain more than a bar.
func (m mesh) allows(lines []refdata.StrongLine, bar float64) bool {
	var total, power float32
	for _, l := range lines {
		if h := m.at(l.D); h.u > 0 {
			e := l.Intensity / h.u
			power += e * e
			total += l.Intensity
		}
	}
	least := float32(math.Sqrt(bar/float64(power))) * (1 - lineTolerance)
	room := absentQuantile * total
	for _, l := range lines {
		if h := m.at(l.D); h.u > 0 && max(0, h.area)+2*h.u < least*l.Intensity {
			if room -= l.Intensity; room < 0 {
				return false
			}
		}
	}
	return total > 0
}

func (m mesh) gain(lines []refdata.StrongLine) float64 {
	var room [16]observed
	seen := room[:0]
	for _, l := range lines {
		if h := m.at(l.D); h.u > 0 {
			seen = append(seen, observed{float64(l.Intensity) / 100, float64(h.area), float64(h.u)})
		}
	}
	return weigh(seen).gain
}

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
	rest := s.sieved(v, s.barOf(list), stride)
	for len(rest) > 0 && rest[0].promise > s.barOf(list) {
		part := rest[:min(together, len(rest))]
		rest = rest[len(part):]
		next := make([]int, len(part))
		for k, p := range part {
			next[k] = p.n
		}
		list = s.best(list, s.trials(v, next))
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
			i := s.entries[entries[k]]
			if s.has(i) {
				continue
			}
			e := s.job.Collection.Entry(i)
			lines = s.ruler.strongSticks(e.Strong, lines[:0])
			out[k] = candidate{index: i, trial: bestTrial(v.tables, lines, reachOf(e.Soluble), v.displacement, stretchSigma(e.Soluble))}
		}
	})
	return out
}

// sieved returns the entries outside the sample that promise to gain more than a bar, the most promising first.
func (s *search) sieved(v *view, bar float64, stride int) []promising {
	const chunk = 4096
	parts := make([][]promising, (len(s.entries)+chunk-1)/chunk)
	narrow, wide := newSieve(s.ruler, v.tables, narrowReach), newSieve(s.ruler, v.tables, wideReach)
	s.share(len(s.entries), chunk, func(lo, hi int) {
		var out []promising
		for n := lo; n < hi; n++ {
			if n%stride == 0 {
				continue
			}
			e := s.job.Collection.Entry(s.entries[n])
			sv := &narrow
			if e.Soluble {
				sv = &wide
			}
			if p := sv.promise(e.Strong, bar); p > bar && !s.has(s.entries[n]) {
				out = append(out, promising{n, p})
			}
		}
		parts[lo/chunk] = out
	})
	list := slices.Concat(parts...)
	slices.SortStableFunc(list, func(a, b promising) int { return cmpFloat(b.promise, a.promise) })
	return list
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
