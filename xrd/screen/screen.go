package screen

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"phasetally/refdata"
	"phasetally/xrd"
)

// An Entry is what screening needs of a phase, side by side with that of others.
type Entry struct {
	Index         int                  // in the collection; those of a screen are ascending
	SolidSolution bool                 // its cell may differ by several per cent
	Strong        []refdata.StrongLine // strongest lines, strongest first
}

// A Scan is what stays the same while residuals change.
type Scan struct {
	TwoTheta  []float64     // degrees, ascending
	Radiation xrd.Radiation // of the tube
	Workers   int           // 0 means 1
}

// A Screen ranks the entries of a collection by how well they explain what is left of a scan.
type Screen struct {
	entries    []Entry
	scan       Scan
	grid       logGrid
	everywhere [][]float32 // places of the grid for every displacement that is tried while none is known
	seen       []int       // entries that were among the best before
}

// New prepares the screening of entries, which are shared, by a scan that an instrument measured.
func New(entries []Entry, scan Scan, ins xrd.Instrument) *Screen {
	return &Screen{entries: entries, scan: scan, grid: newGrid(scan.TwoTheta, scan.Radiation.KAlpha1, ins)}
}

// A Residual is what a scan shows beyond an explanation.
type Residual struct {
	Intensity, Variance []float64      // parallel to the points of the scan
	Instrument          xrd.Instrument // with the widths as far as they are known
	Displacement        float64        // mm, the most probable
	Known               bool           // no other displacement is tried
}

// A View is what screening sees of a residual: its matched filter at every displacement that is tried.
type View struct {
	screen       *Screen
	displacement float64 // mm, the most probable
	tables       []table
}

// View looks at a residual.
func (s *Screen) View(r Residual) *View {
	f := NewFilter(s.scan.TwoTheta, r.Intensity, r.Variance, s.scan.Radiation, r.Instrument)
	v := &View{screen: s, displacement: r.Displacement}
	if r.Known {
		v.tables = []table{newTable(f, r.Displacement, s.grid.places(r.Displacement))}
		return v
	}
	all := displacements()
	if s.everywhere == nil {
		s.everywhere = make([][]float32, len(all))
		s.share(len(all), 1, func(k, _ int) { s.everywhere[k] = s.grid.places(all[k]) })
	}
	v.tables = make([]table, len(all))
	s.share(len(all), 1, func(k, _ int) { v.tables[k] = newTable(f, all[k], s.everywhere[k]) })
	return v
}

// A Candidate is an entry with its best trial.
type Candidate struct {
	Index int // in the collection
	Trial
}

// Best returns at most n of the entries that gain most by their strong lines, at least as much as asked for where there are
// many, best first; those to skip are left out. The result does not depend on the number of workers.
func (s *Screen) Best(v *View, least float64, n int, skip func(index int) bool) []Candidate {
	return v.best(query{least, n, skip})
}

// A query is what Best is asked for.
type query struct {
	least float64
	n     int
	skip  func(index int) bool
}

const (
	sampled = 256 // phases that are tried before any is bounded
	growth  = 4   // of the parts that are bounded
	block   = 256 // neighbours that are bounded in one go
)

// best tries a sample and the best of earlier screenings, which tell how much the last on the list gains; of the others, those
// are tried that may gain as much by a bound. Parts are bounded that grow, so that most are when much is asked for.
func (v *View) best(q query) []Candidate {
	s := v.screen
	tried := make([]bool, len(s.entries))
	list := q.merge(nil, v.trials(q, s.sample(tried)))
	if stride := len(s.entries) / sampled; stride > 1 {
		bounds := newBounds(s.grid, v.tables)
		for stride > 1 {
			stride = max(1, stride/growth)
			bounds.ask(q.enough(list))
			list = q.merge(list, v.trials(q, s.bounded(bounds, tried, stride)))
		}
	}
	out := make([]Candidate, len(list))
	for k, t := range list {
		out[k] = Candidate{s.entries[t.n].Index, t.Trial}
		if !slices.Contains(s.seen, t.n) {
			s.seen = append(s.seen, t.n)
		}
	}
	return out
}

// ranked is the trial of an entry by its strong lines.
type ranked struct {
	n int // of the entries
	Trial
}

// sample returns entries at a stride, and those that were among the best before; they are marked as tried.
func (s *Screen) sample(tried []bool) []int {
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

// enough is the gain that it takes to come onto a list.
func (q query) enough(list []ranked) float64 {
	if len(list) < q.n {
		return q.least
	}
	return math.Max(q.least, list[len(list)-1].Gain)
}

// merge puts a list and others, which are changed, into one; of equals the earlier entry comes first.
func (q query) merge(list, others []ranked) []ranked {
	enough := 0.0
	if len(list) == q.n {
		enough = list[q.n-1].Gain
	}
	list = append(list, slices.DeleteFunc(others, func(t ranked) bool { return !(t.Gain > 0 && t.Gain >= enough) })...)
	slices.SortFunc(list, func(a, b ranked) int { return cmp.Or(cmp.Compare(b.Gain, a.Gain), a.n-b.n) })
	return slices.Clone(list[:min(q.n, len(list))])
}

// trials tries entries by their strong lines.
func (v *View) trials(q query, entries []int) []ranked {
	out := make([]ranked, len(entries))
	v.screen.share(len(entries), 32, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			if e := &v.screen.entries[entries[k]]; !q.skip(e.Index) {
				out[k] = ranked{entries[k], v.TryStrong(e.Strong, e.SolidSolution)}
			}
		}
	})
	return out
}

// Try tries a phase with all its lines.
func (v *View) Try(p refdata.Phase) Trial {
	return bestTrial(v.tables, v.screen.grid.sticks(p.Lines, mostSticks), Reach(p.SolidSolution), v.displacement, CellSigma(p.SolidSolution))
}

// TryStrong tries a phase by its strong lines.
func (v *View) TryStrong(strong []refdata.StrongLine, solidSolution bool) Trial {
	var buffer [mostSticks]stick
	lines := v.screen.grid.strongSticks(strong[:min(len(strong), mostSticks)], buffer[:0])
	return bestTrial(v.tables, lines, Reach(solidSolution), v.displacement, CellSigma(solidSolution))
}

// CountDecoys tries entries at a stride with all spacings changed by each of some ratios, and counts those that gain at least so
// much: for phases of narrow and of wide reach apart. It stops early when what is counted is enough.
func (v *View) CountDecoys(ratios []float32, stride int, least float64, skip func(index int) bool, enough func(narrow, wide int64) bool) (narrow, wide int64) {
	s := v.screen
	var count decoyCount
	bounds := newBounds(s.grid, v.tables)
	bounds.ask(least)
	s.share((len(s.entries)+stride-1)/stride, 16, func(lo, hi int) {
		var wrong []refdata.StrongLine
		for k := lo; k < hi && !enough(count.get()); k++ {
			e := &s.entries[k*stride]
			if skip(e.Index) {
				continue
			}
			for _, ratio := range ratios {
				wrong = wrong[:0]
				for _, l := range e.Strong {
					wrong = append(wrong, refdata.StrongLine{D: l.D * ratio, Intensity: l.Intensity})
				}
				if bounds.of[e.kind()].mayGain(wrong) && v.TryStrong(wrong, e.SolidSolution).Gain >= least {
					count[e.kind()].Add(1)
				}
			}
		}
	})
	return count.get()
}

// bounded returns the entries of blocks at a stride that may gain enough, but for those tried already; all are marked as tried.
func (s *Screen) bounded(bounds *bounds, tried []bool, stride int) []int {
	parts := make([][]int, (len(s.entries)+block-1)/block)
	s.share((len(parts)+stride-1)/stride, 1, func(k, _ int) {
		var out []int
		for n := k * stride * block; n < min((k*stride+1)*block, len(s.entries)); n++ {
			if tried[n] {
				continue
			}
			tried[n] = true
			e := &s.entries[n]
			if bounds.of[e.kind()].mayGain(e.Strong) {
				out = append(out, n)
			}
		}
		parts[k] = out
	})
	return slices.Concat(parts...)
}

// kind is 1 for phases of wide reach.
func (e *Entry) kind() int {
	if e.SolidSolution {
		return 1
	}
	return 0
}

// share calls work for parts of 0 … n−1 on all workers.
func (s *Screen) share(n, chunk int, work func(lo, hi int)) {
	var workers errgroup.Group
	workers.SetLimit(max(1, s.scan.Workers))
	for lo := 0; lo < n; lo += chunk {
		workers.Go(func() error {
			work(lo, min(n, lo+chunk))
			return nil
		})
	}
	_ = workers.Wait() // no worker fails
}

// decoyCount counts hits of phases of narrow and of wide reach.
type decoyCount [2]atomic.Int64

func (c *decoyCount) get() (narrow, wide int64) { return c[0].Load(), c[1].Load() }
